/*
 * The camera, live, where the browser gives one: at this computer, or over https. Still pictures go
 * to the same reading as a photo does, until one shows a label of ours.
 */
import { say } from "./bench.js";

const EVERY_MS = 400;
const LONGEST_PX = 1600;
const view = document.getElementById("live-view");
const words = document.getElementById("live-words");
const start = document.getElementById("live-start");
let stream = null;

function stop() {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  view.hidden = true;
  start.textContent = "Look with the camera";
}

function still() {
  const share = Math.min(1, LONGEST_PX / Math.max(view.videoWidth, view.videoHeight));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(view.videoWidth * share);
  canvas.height = Math.round(view.videoHeight * share);
  canvas.getContext("2d").drawImage(view, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
}

async function read() {
  const data = new FormData();
  data.set("photo", await still(), "camera.jpg");
  const headers = { Accept: "application/json", "X-Form-Key": document.body.dataset.formKey };
  const answer = await fetch("/scan", { method: "POST", body: data, headers });
  return answer.ok ? answer.json() : null;
}

async function look() {
  while (stream) {
    try {
      const found = view.videoWidth && !document.hidden ? await read() : null;
      if (found) {
        stop();
        location.assign(found.then);
        return;
      }
    } catch (error) {
      if (!(error instanceof TypeError)) throw error;
      words.textContent = "No connection: looking on.";
    }
    await new Promise((go) => setTimeout(go, EVERY_MS));
  }
}

async function begin() {
  if (stream) {
    stop();
    return;
  }
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: 1920 } });
  } catch (error) {
    say("The camera was not given; photograph the label instead.", true);
    return;
  }
  view.srcObject = stream;
  view.hidden = false;
  await view.play();
  start.textContent = "Stop looking";
  words.textContent = "Hold the label before the camera.";
  look();
}

if (navigator.mediaDevices?.getUserMedia) {
  document.getElementById("live").hidden = false;
  start.addEventListener("click", begin);
}
