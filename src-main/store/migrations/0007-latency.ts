/** Schema version 7: runs of input latency and the raw record of every event. Frozen; imports nothing. */
export const latency = {
  version: 7,
  name: 'latency',
  sql: `
CREATE TABLE latency_run (
  id INTEGER PRIMARY KEY,
  campaign_id INTEGER NOT NULL REFERENCES campaign (id),
  plan TEXT NOT NULL CHECK (json_valid(plan)),
  rig_identity TEXT NOT NULL,
  started_at TEXT NOT NULL,
  -- The reading made of its events; NULL until the run has ended.
  reading_id INTEGER REFERENCES reading (id)
) STRICT;
CREATE INDEX latency_run_by_campaign ON latency_run (campaign_id);

-- The input event is at sample trigger_index; volts = sample * scale_v + offset_v, samples little-endian.
CREATE TABLE latency_event (
  id INTEGER PRIMARY KEY,
  run_id INTEGER NOT NULL REFERENCES latency_run (id),
  position INTEGER NOT NULL,
  taken_at TEXT NOT NULL,
  format TEXT NOT NULL CHECK (format IN ('int16', 'real32')),
  sample_rate_hz REAL NOT NULL,
  scale_v REAL NOT NULL,
  offset_v REAL NOT NULL,
  range_v REAL NOT NULL,
  trigger_index INTEGER NOT NULL,
  handler_ms REAL,
  samples BLOB NOT NULL,
  UNIQUE (run_id, position)
) STRICT;
CREATE TRIGGER latency_event_fixed BEFORE UPDATE ON latency_event
  BEGIN SELECT RAISE(ABORT, 'raw records are never changed'); END;
CREATE TRIGGER latency_event_kept BEFORE DELETE ON latency_event
  BEGIN SELECT RAISE(ABORT, 'raw records are never deleted'); END;
`,
} as const
