-- Indices alone: what is asked of the newest, or of few among many, reads no more than it shows.

CREATE INDEX event_kind ON event (kind, clock, device);

CREATE INDEX board_newest ON board (recorded_at, code);

CREATE INDEX piece_newest ON piece (made_at, code) WHERE stage NOT IN ('sold', 'withdrawn');
CREATE INDEX piece_article ON piece (made_at, code) WHERE cut IS NULL;

CREATE INDEX drop_off_newest ON drop_off (received_on, code);

CREATE INDEX sale_day ON sale (sold_on);
CREATE INDEX sale_return ON sale (returned_on) WHERE returned_on <> '';
CREATE INDEX slip_line_lost ON slip_line (slip) WHERE piece = '';
