
CREATE TABLE archive (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;

CREATE TABLE campaign (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  display TEXT NOT NULL,
  note TEXT NOT NULL,
  created_at TEXT NOT NULL,
  invented INTEGER NOT NULL CHECK (invented IN (0, 1))
) STRICT;

CREATE TABLE sweep (
  id INTEGER PRIMARY KEY,
  campaign_id INTEGER NOT NULL REFERENCES campaign (id),
  plan TEXT NOT NULL CHECK (json_valid(plan)),
  state TEXT NOT NULL CHECK (state IN ('ready', 'ladder', 'running', 'paused', 'finished', 'stopped', 'failed')),
  reason TEXT NOT NULL,
  origin TEXT NOT NULL CHECK (origin IN ('rig', 'import')),
  created_at TEXT NOT NULL,
  rig_identity TEXT NOT NULL,
  total INTEGER NOT NULL CHECK (total >= 0),
  max_attempts INTEGER NOT NULL CHECK (max_attempts >= 1),
  ladder TEXT CHECK (ladder IS NULL OR json_valid(ladder))
) STRICT;
CREATE INDEX sweep_by_campaign ON sweep (campaign_id);

-- A capture cannot be committed without its trace: the reference is checked at the end of the transaction.
-- round counts the good captures of the same position that a person sent back to be retaken.
CREATE TABLE capture (
  id INTEGER PRIMARY KEY REFERENCES trace (capture_id) DEFERRABLE INITIALLY DEFERRED,
  sweep_id INTEGER NOT NULL REFERENCES sweep (id),
  level_from INTEGER NOT NULL CHECK (level_from BETWEEN 0 AND 255),
  level_to INTEGER NOT NULL CHECK (level_to BETWEEN 0 AND 255),
  repeat INTEGER NOT NULL CHECK (repeat >= 1),
  attempt INTEGER NOT NULL CHECK (attempt >= 1),
  position INTEGER NOT NULL CHECK (position >= 0),
  round INTEGER NOT NULL CHECK (round >= 0),
  verdict TEXT NOT NULL CHECK (verdict IN ('good', 'dropped-frame', 'gapped', 'no-edge')),
  taken_at TEXT NOT NULL,
  sample_count INTEGER NOT NULL CHECK (sample_count >= 1),
  sample_rate_hz REAL NOT NULL CHECK (sample_rate_hz > 0),
  trigger_index INTEGER NOT NULL,
  source TEXT NOT NULL,
  frame_source TEXT CHECK (frame_source IN ('controller', 'page')),
  frame_ms REAL,
  frame_switch_ms REAL,
  frame_dropped INTEGER CHECK (frame_dropped IN (0, 1)),
  frame_times BLOB
) STRICT;
CREATE UNIQUE INDEX capture_attempt ON capture (sweep_id, position, round, attempt);
CREATE UNIQUE INDEX capture_good ON capture (sweep_id, position, round) WHERE verdict = 'good';
CREATE INDEX capture_bad ON capture (sweep_id, position, round) WHERE verdict <> 'good';
CREATE INDEX capture_levels ON capture (level_from, level_to);
CREATE TRIGGER capture_kept BEFORE DELETE ON capture BEGIN SELECT RAISE(ABORT, 'captures are never deleted'); END;
CREATE TRIGGER capture_raw BEFORE UPDATE ON capture BEGIN SELECT RAISE(ABORT, 'captures are never changed'); END;

-- volts = sample * scale_v + offset_v; samples are little-endian INT16 or IEEE 754 single precision.
CREATE TABLE trace (
  capture_id INTEGER PRIMARY KEY REFERENCES capture (id),
  format TEXT NOT NULL CHECK (format IN ('int16', 'real32')),
  sample_rate_hz REAL NOT NULL CHECK (sample_rate_hz > 0),
  scale_v REAL NOT NULL,
  offset_v REAL NOT NULL,
  range_v REAL NOT NULL,
  crc32 INTEGER NOT NULL,
  samples BLOB NOT NULL CHECK (length(samples) > 0)
) STRICT;
CREATE TRIGGER trace_kept BEFORE DELETE ON trace BEGIN SELECT RAISE(ABORT, 'traces are never deleted'); END;
CREATE TRIGGER trace_raw BEFORE UPDATE ON trace BEGIN SELECT RAISE(ABORT, 'traces are never changed'); END;

-- Least and greatest sample of each block, all minima first, in the format of the trace.
CREATE TABLE overview (
  capture_id INTEGER PRIMARY KEY REFERENCES capture (id),
  block INTEGER NOT NULL CHECK (block >= 1),
  extremes BLOB NOT NULL
) STRICT;

CREATE TABLE recipe (
  id INTEGER PRIMARY KEY,
  hash TEXT NOT NULL UNIQUE,
  parameters TEXT NOT NULL CHECK (json_valid(parameters)),
  created_at TEXT NOT NULL
) STRICT;
CREATE TRIGGER recipe_kept BEFORE DELETE ON recipe BEGIN SELECT RAISE(ABORT, 'recipes are never deleted'); END;
CREATE TRIGGER recipe_fixed BEFORE UPDATE ON recipe BEGIN SELECT RAISE(ABORT, 'recipes are never changed'); END;

-- One recipe computed by one version of the measuring code.
CREATE TABLE analysis (
  id INTEGER PRIMARY KEY,
  recipe_hash TEXT NOT NULL REFERENCES recipe (hash),
  algorithm TEXT NOT NULL,
  UNIQUE (recipe_hash, algorithm)
) STRICT;

-- override_id is the review whose marks were used, 0 for the machine's own. Sweep and levels repeat those of the capture
-- so that lists are filtered and ordered in one pass over this table.
CREATE TABLE result (
  id INTEGER PRIMARY KEY,
  analysis_id INTEGER NOT NULL REFERENCES analysis (id),
  sweep_id INTEGER NOT NULL,
  capture_id INTEGER NOT NULL REFERENCES capture (id),
  override_id INTEGER NOT NULL DEFAULT 0,
  level_from INTEGER NOT NULL,
  level_to INTEGER NOT NULL,
  flag_count INTEGER NOT NULL,
  transition_duration_s REAL,
  transition_duration_corrected_s REAL,
  arrival_s REAL,
  settling_s REAL,
  overshoot_pct REAL,
  overshoot_code REAL,
  overshoot_instant_s REAL,
  overshoot_length_s REAL,
  undershoot_pct REAL,
  undershoot_code REAL,
  undershoot_instant_s REAL,
  undershoot_length_s REAL,
  integrated_error_s REAL,
  first_frame_completion_pct REAL,
  in_window REAL,
  blur_edge_s REAL,
  extended_blur_edge_s REAL,
  gaussian_edge_s REAL,
  first_pulse_crosstalk_pct REAL,
  step_v REAL,
  noise_v REAL,
  snr REAL,
  ripple_frequency_hz REAL,
  ripple_depth_pct REAL
) STRICT;
CREATE UNIQUE INDEX result_once ON result (analysis_id, sweep_id, capture_id, override_id);
CREATE INDEX result_flagged ON result (analysis_id, sweep_id) WHERE flag_count > 0;
CREATE TRIGGER result_kept BEFORE DELETE ON result BEGIN SELECT RAISE(ABORT, 'results are never deleted'); END;
CREATE TRIGGER result_fixed BEFORE UPDATE OF
  id, analysis_id, sweep_id, capture_id, override_id, level_from, level_to,
  transition_duration_s, transition_duration_corrected_s, arrival_s, settling_s,
  overshoot_pct, overshoot_code, overshoot_instant_s, overshoot_length_s,
  undershoot_pct, undershoot_code, undershoot_instant_s, undershoot_length_s,
  integrated_error_s, first_frame_completion_pct, in_window, blur_edge_s, extended_blur_edge_s, gaussian_edge_s,
  first_pulse_crosstalk_pct, step_v, noise_v, snr, ripple_frequency_hz, ripple_depth_pct
  ON result BEGIN SELECT RAISE(ABORT, 'results are never changed'); END;

-- Where the marks were put, and the standard uncertainty of each value in its unit (u_ and the name of the value).
CREATE TABLE result_detail (
  result_id INTEGER PRIMARY KEY REFERENCES result (id),
  before_window_start_s REAL,
  before_window_end_s REAL,
  after_window_start_s REAL,
  after_window_end_s REAL,
  before_v REAL,
  after_v REAL,
  onset_s REAL,
  cross_low_s REAL,
  cross_mid_s REAL,
  cross_high_s REAL,
  arrival_at_s REAL,
  settled_at_s REAL,
  overshoot_at_s REAL,
  overshoot_v REAL,
  undershoot_at_s REAL,
  undershoot_v REAL,
  start_band_low_v REAL,
  start_band_high_v REAL,
  end_band_low_v REAL,
  end_band_high_v REAL,
  reference_low_v REAL,
  reference_high_v REAL,
  u_transition_duration_s REAL,
  u_transition_duration_corrected_s REAL,
  u_arrival_s REAL,
  u_settling_s REAL,
  u_overshoot_pct REAL,
  u_overshoot_code REAL,
  u_overshoot_instant_s REAL,
  u_overshoot_length_s REAL,
  u_undershoot_pct REAL,
  u_undershoot_code REAL,
  u_undershoot_instant_s REAL,
  u_undershoot_length_s REAL,
  u_integrated_error_s REAL,
  u_first_frame_completion_pct REAL,
  u_in_window REAL,
  u_blur_edge_s REAL,
  u_extended_blur_edge_s REAL,
  u_gaussian_edge_s REAL,
  u_first_pulse_crosstalk_pct REAL,
  u_step_v REAL,
  u_noise_v REAL,
  u_snr REAL,
  u_ripple_frequency_hz REAL,
  u_ripple_depth_pct REAL
) STRICT;
CREATE TRIGGER result_detail_kept BEFORE DELETE ON result_detail
  BEGIN SELECT RAISE(ABORT, 'results are never deleted'); END;
CREATE TRIGGER result_detail_fixed BEFORE UPDATE ON result_detail
  BEGIN SELECT RAISE(ABORT, 'results are never changed'); END;

-- Why a value is undefined. The same sentences come again and again, so each is kept once.
CREATE TABLE measure (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE phrase (id INTEGER PRIMARY KEY, words TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE result_reason (
  result_id INTEGER NOT NULL REFERENCES result (id),
  measure_id INTEGER NOT NULL REFERENCES measure (id),
  phrase_id INTEGER NOT NULL REFERENCES phrase (id),
  PRIMARY KEY (result_id, measure_id)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER result_reason_kept BEFORE DELETE ON result_reason
  BEGIN SELECT RAISE(ABORT, 'results are never deleted'); END;
CREATE TRIGGER result_reason_fixed BEFORE UPDATE ON result_reason
  BEGIN SELECT RAISE(ABORT, 'results are never changed'); END;

-- origin 0: found in the capture itself; 1: found by comparing it with others of its sweep (these are replaced).
CREATE TABLE result_flag (
  result_id INTEGER NOT NULL REFERENCES result (id),
  origin INTEGER NOT NULL CHECK (origin IN (0, 1)),
  number INTEGER NOT NULL,
  flag TEXT NOT NULL,
  evidence TEXT NOT NULL,
  value REAL,
  bound REAL,
  unit TEXT NOT NULL,
  first_sample INTEGER,
  last_sample INTEGER,
  PRIMARY KEY (result_id, origin, number)
) STRICT, WITHOUT ROWID;
CREATE INDEX result_flag_kind ON result_flag (flag, result_id);
CREATE TRIGGER result_flag_kept BEFORE DELETE ON result_flag WHEN old.origin = 0
  BEGIN SELECT RAISE(ABORT, 'flags of a result are never deleted'); END;
CREATE TRIGGER result_flag_fixed BEFORE UPDATE ON result_flag
  BEGIN SELECT RAISE(ABORT, 'flags are never changed'); END;

-- History of decisions. undone 0: stands; 1: taken back; 2: taken back and overtaken by a later decision.
CREATE TABLE review (
  id INTEGER PRIMARY KEY,
  capture_id INTEGER NOT NULL REFERENCES capture (id),
  decision TEXT NOT NULL CHECK (decision IN ('keep', 'exclude', 'retake', 'override')),
  reason TEXT NOT NULL,
  reviewer TEXT NOT NULL,
  marks TEXT CHECK (marks IS NULL OR json_valid(marks)),
  at TEXT NOT NULL,
  undone INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1, 2))
) STRICT;
CREATE INDEX review_by_capture ON review (capture_id);
CREATE INDEX review_undone ON review (undone, id);
CREATE TRIGGER review_kept BEFORE DELETE ON review BEGIN SELECT RAISE(ABORT, 'reviews are never deleted'); END;
CREATE TRIGGER review_fixed BEFORE UPDATE OF id, capture_id, decision, reason, reviewer, marks, at ON review
  BEGIN SELECT RAISE(ABORT, 'reviews are never changed'); END;

-- The decision that stands for a capture; derived from review.
CREATE TABLE standing (
  capture_id INTEGER PRIMARY KEY REFERENCES capture (id),
  review_id INTEGER NOT NULL REFERENCES review (id),
  decision TEXT NOT NULL,
  override_id INTEGER NOT NULL
) STRICT;

CREATE TABLE event (
  id INTEGER PRIMARY KEY,
  at TEXT NOT NULL,
  sweep_id INTEGER REFERENCES sweep (id),
  level TEXT NOT NULL CHECK (level IN ('info', 'warn', 'error')),
  text TEXT NOT NULL
) STRICT;
CREATE INDEX event_by_sweep ON event (sweep_id, id);
