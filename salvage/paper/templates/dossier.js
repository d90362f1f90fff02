// Checks the proof that this page holds, with nothing from elsewhere: a page that came over plain
// HTTP has no hashing of the browser's own. SHA-256 and SHA-512 are those of FIPS 180-4, Ed25519 is
// that of RFC 8032, section 5.1.7, the tree that of RFC 9162, section 2.1.3.2. No secret is handled
// here, so nothing needs to take the same time for all numbers.
"use strict";
(function () {
  const text = document.getElementById("proof").textContent;
  const list = document.getElementById("verdict");

  function tell(isGood, words) {
    const line = document.createElement("li");
    line.className = isGood ? "good" : "bad";
    line.textContent = (isGood ? "✓ " : "✗ ") + words;
    list.appendChild(line);
  }

  function check(holds, words) {
    if (!holds) throw new Error(words);
  }

  // ---- bytes

  function fromHex(hex) {
    check(/^([0-9a-f]{2})*$/.test(hex), "a hash is malformed");
    return Uint8Array.from(hex.match(/../g) || [], (pair) => parseInt(pair, 16));
  }
  const toHex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  const utf8 = (words) => new TextEncoder().encode(words);

  function join() {
    const parts = Array.from(arguments);
    const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
    parts.reduce((at, part) => (whole.set(part, at), at + part.length), 0);
    return whole;
  }

  // ---- SHA-2: constants are the fractions of roots of the first primes, worked out exactly

  function primes(count) {
    const found = [];
    for (let n = 2n; found.length < count; n++) {
      if (found.every((p) => n % p)) found.push(n);
    }
    return found;
  }

  function rootFraction(prime, power, bits) {
    const wanted = prime << BigInt(power * bits);
    let low = 0n, high = 1n << BigInt(bits + 5);
    while (high - low > 1n) {
      const middle = (low + high) >> 1n;
      if (middle ** BigInt(power) <= wanted) low = middle; else high = middle;
    }
    return low & ((1n << BigInt(bits)) - 1n);
  }

  const K256 = Uint32Array.from(primes(64), (p) => Number(rootFraction(p, 3, 32)));
  const H256 = Uint32Array.from(primes(8), (p) => Number(rootFraction(p, 2, 32)));

  function padded(message, block) {
    const length = Math.ceil((message.length + 1 + block / 8) / block) * block;
    const whole = new Uint8Array(length);
    whole.set(message);
    whole[message.length] = 0x80;
    new DataView(whole.buffer).setBigUint64(length - 8, BigInt(message.length) * 8n);
    return whole;
  }

  const turn = (x, n) => (x >>> n) | (x << (32 - n));

  function sha256() {
    const whole = padded(join.apply(null, arguments), 64);
    const view = new DataView(whole.buffer), state = H256.slice(), w = new Uint32Array(64);
    for (let start = 0; start < whole.length; start += 64) {
      for (let i = 0; i < 16; i++) w[i] = view.getUint32(start + 4 * i);
      for (let i = 16; i < 64; i++) {
        const a = w[i - 15], b = w[i - 2];
        const s0 = turn(a, 7) ^ turn(a, 18) ^ (a >>> 3);
        const s1 = turn(b, 17) ^ turn(b, 19) ^ (b >>> 10);
        w[i] = w[i - 16] + s0 + w[i - 7] + s1;
      }
      let [a, b, c, d, e, f, g, h] = state;
      for (let i = 0; i < 64; i++) {
        const s1 = turn(e, 6) ^ turn(e, 11) ^ turn(e, 25);
        const one = (h + s1 + ((e & f) ^ (~e & g)) + K256[i] + w[i]) | 0;
        const s0 = turn(a, 2) ^ turn(a, 13) ^ turn(a, 22);
        const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
        h = g; g = f; f = e; e = (d + one) | 0; d = c; c = b; b = a; a = (one + two) | 0;
      }
      [a, b, c, d, e, f, g, h].forEach((value, i) => { state[i] += value; });
    }
    const out = new DataView(new ArrayBuffer(32));
    state.forEach((value, i) => out.setUint32(4 * i, value));
    return new Uint8Array(out.buffer);
  }

  const M64 = (1n << 64n) - 1n;
  const turn64 = (x, n) => ((x >> n) | (x << (64n - n))) & M64;

  function sha512() {
    const K = primes(80).map((p) => rootFraction(p, 3, 64));
    const state = primes(8).map((p) => rootFraction(p, 2, 64));
    const whole = padded(join.apply(null, arguments), 128), view = new DataView(whole.buffer);
    for (let start = 0; start < whole.length; start += 128) {
      const w = [];
      for (let i = 0; i < 16; i++) w.push(view.getBigUint64(start + 8 * i));
      for (let i = 16; i < 80; i++) {
        const a = w[i - 15], b = w[i - 2];
        const s0 = turn64(a, 1n) ^ turn64(a, 8n) ^ (a >> 7n);
        const s1 = turn64(b, 19n) ^ turn64(b, 61n) ^ (b >> 6n);
        w.push((w[i - 16] + s0 + w[i - 7] + s1) & M64);
      }
      let [a, b, c, d, e, f, g, h] = state;
      for (let i = 0; i < 80; i++) {
        const s1 = turn64(e, 14n) ^ turn64(e, 18n) ^ turn64(e, 41n);
        const one = (h + s1 + ((e & f) ^ (~e & M64 & g)) + K[i] + w[i]) & M64;
        const s0 = turn64(a, 28n) ^ turn64(a, 34n) ^ turn64(a, 39n);
        const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) & M64;
        h = g; g = f; f = e; e = (d + one) & M64; d = c; c = b; b = a; a = (one + two) & M64;
      }
      [a, b, c, d, e, f, g, h].forEach((value, i) => { state[i] = (state[i] + value) & M64; });
    }
    const out = new DataView(new ArrayBuffer(64));
    state.forEach((value, i) => out.setBigUint64(8 * i, value));
    return new Uint8Array(out.buffer);
  }

  // ---- Ed25519

  const P = 2n ** 255n - 19n;
  const L = 2n ** 252n + 27742317777372353535851937790883648493n;
  const mod = (a, m) => ((a % m) + m) % m;

  function power(base, exponent) {
    let result = 1n;
    for (base = mod(base, P); exponent; exponent >>= 1n, base = base * base % P) {
      if (exponent & 1n) result = result * base % P;
    }
    return result;
  }

  const inverse = (a) => power(a, P - 2n);
  const D = mod(-121665n * inverse(121666n), P);
  const little = (bytes) => bytes.reduceRight((sum, byte) => (sum << 8n) | BigInt(byte), 0n);

  // A point is X, Y, Z, T with x = X/Z, y = Y/Z, x y = T/Z.
  function add([x1, y1, z1, t1], [x2, y2, z2, t2]) {
    const a = mod((y1 - x1) * (y2 - x2), P), b = mod((y1 + x1) * (y2 + x2), P);
    const c = mod(2n * t1 * t2 * D, P), d = mod(2n * z1 * z2, P);
    const e = b - a, f = d - c, g = d + c, h = b + a;
    return [mod(e * f, P), mod(g * h, P), mod(f * g, P), mod(e * h, P)];
  }

  function times(number, point) {
    let sum = [0n, 1n, 1n, 0n];
    for (; number; number >>= 1n, point = add(point, point)) {
      if (number & 1n) sum = add(sum, point);
    }
    return sum;
  }

  function pointOf(bytes) {
    check(bytes.length === 32, "a key or signature has the wrong length");
    const whole = little(bytes), sign = whole >> 255n, y = whole & (2n ** 255n - 1n);
    check(y < P, "a key or signature is no point of the curve");
    const square = mod((y * y - 1n) * inverse(D * y * y + 1n), P);
    let x = power(square, (P + 3n) / 8n);
    if (mod(x * x - square, P)) x = x * power(2n, (P - 1n) / 4n) % P;
    check(!mod(x * x - square, P), "a key or signature is no point of the curve");
    check(x || !sign, "a key or signature is no point of the curve");
    if ((x & 1n) !== sign) x = P - x;
    return [x, y, 1n, x * y % P];
  }

  function isSigned(message, signature, key) {
    if (signature.length !== 64) return false;
    const s = little(signature.slice(32));
    if (s >= L) return false;
    const y = 4n * inverse(5n) % P;
    const bytes = fromHex(y.toString(16).padStart(64, "0")).reverse();
    const base = pointOf(bytes);
    const k = mod(little(sha512(signature.slice(0, 32), key, message)), L);
    const left = times(s, base), right = add(pointOf(signature.slice(0, 32)), times(k, pointOf(key)));
    return !mod(left[0] * right[2] - right[0] * left[2], P)
      && !mod(left[1] * right[2] - right[1] * left[2], P);
  }

  // ---- the proof

  function rootOf(leaf, place, count, path) {
    let here = place, last = count - 1, found = leaf;
    for (const node of path) {
      check(last > 0, "a path is too long");
      if (here % 2 || here === last) {
        found = sha256([1], node, found);
        while (here % 2 === 0 && here) { here /= 2; last = Math.floor(last / 2); }
      } else {
        found = sha256([1], found, node);
      }
      here = Math.floor(here / 2);
      last = Math.floor(last / 2);
    }
    check(last === 0, "a path is too short");
    return found;
  }

  function canonical(value) {
    if (Array.isArray(value)) return "[" + value.map(canonical).join(",") + "]";
    if (value === null || typeof value !== "object") return JSON.stringify(value);
    const fields = Object.keys(value).sort();
    return "{" + fields.map((name) => JSON.stringify(name) + ":" + canonical(value[name])).join(",") + "}";
  }

  function checkEvent(event, chains, links, seals) {
    const name = event.device + event.n, digest = fromHex(event.hash), chain = chains[event.device];
    check(chain && event.n >= 1 && event.n <= chain.count, name + " is not in the signed journal");
    if ("body" in event) {
      const sum = sha256(fromHex(event.prev), utf8(event.body));
      check(toHex(sum) === event.hash, name + ": the text is not the one that was hashed");
      const body = JSON.parse(event.body);
      check(body.device === event.device && body.n === event.n, name + " stands in the wrong place");
      if (body.data.name_seal) seals.add(body.data.name_seal);
      if (body.data.now && body.data.now.name_seal) seals.add(body.data.now.name_seal);
      for (const made of body.made) links[made] = body;
    }
    const root = rootOf(sha256([0], digest), event.n - 1, chain.count, event.path.map(fromHex));
    check(toHex(root) === chain.root, name + " is not in the signed journal");
  }

  function checkLine(links, piece) {
    const made = links[piece];
    if (!made) return 0;
    if (made.kind === "article.assembled") {
      return made.data.parts.reduce((sum, part) => sum + checkLine(links, part), 0);
    }
    check(made.kind === "cut.made" && made.about.includes(piece), piece + " was not cut");
    return 1;
  }

  function verify() {
    const proof = JSON.parse(text), signed = proof.checkpoint.signed, links = {}, seals = new Set();
    const chains = Object.fromEntries(signed.chains.map((chain) => [chain.device, chain]));
    check(proof.piece === document.documentElement.dataset.piece, "the proof is another piece's");
    proof.events.forEach((event) => checkEvent(event, chains, links, seals));
    const readable = proof.events.filter((event) => "body" in event).length;
    tell(true, proof.events.length + " entries of the record are in the signed journal, unchanged; "
      + readable + " of them can be read here.");
    const cuts = checkLine(links, proof.piece);
    if (cuts) tell(true, "The entries that can be read lead from " + proof.piece + " to "
      + cuts + (cuts === 1 ? " cut." : " cuts."));
    for (const open of proof.opened) {
      const seal = sha256(utf8("salvage private field 1\n"), fromHex(open.salt), utf8(open.value));
      check(toHex(seal) === open.seal && (seals.has(open.seal) || !readable), "a name is not the sealed one");
      tell(true, "The donor's name is the one that was sealed: " + open.value);
    }
    const key = fromHex(signed.public_key);
    check(isSigned(utf8(canonical(signed)), fromHex(proof.checkpoint.signature), key),
      "the signature does not fit");
    tell(true, "Signed on " + signed.at.slice(0, 10) + " with the key " + signed.public_key);
  }

  list.textContent = "";
  try {
    verify();
  } catch (error) {
    list.textContent = "";
    tell(false, "This proof does not hold: " + error.message);
  }
})();
