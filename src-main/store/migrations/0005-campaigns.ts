/** Schema version 5: runs, readings, where a sweep's data come from. Frozen: later changes are later migrations. */
export const campaigns = {
  version: 5,
  name: 'campaigns',
  sql: `
-- Sweeps worked through in one go. plan: settings, refresh rates and what is the same in all of its sweeps.
CREATE TABLE run (
  id INTEGER PRIMARY KEY,
  campaign_id INTEGER NOT NULL REFERENCES campaign (id),
  plan TEXT NOT NULL CHECK (json_valid(plan)),
  state TEXT NOT NULL CHECK (state IN ('ready', 'running', 'paused', 'finished', 'stopped')),
  reason TEXT NOT NULL,
  created_at TEXT NOT NULL
) STRICT;
CREATE INDEX run_by_campaign ON run (campaign_id);

-- setting and refresh_hz repeat those of the plan. run_position: place in the run's order, from 0.
-- origin: 'simulated' is anything that a simulated rig made.
CREATE TABLE sweep_raised (
  id INTEGER PRIMARY KEY,
  campaign_id INTEGER NOT NULL REFERENCES campaign (id),
  run_id INTEGER REFERENCES run (id),
  run_position INTEGER CHECK (run_position IS NULL OR run_position >= 0),
  name TEXT NOT NULL DEFAULT '',
  setting TEXT NOT NULL,
  refresh_hz REAL NOT NULL,
  plan TEXT NOT NULL CHECK (json_valid(plan)),
  state TEXT NOT NULL CHECK (state IN ('ready', 'ladder', 'running', 'paused', 'finished', 'stopped', 'failed')),
  reason TEXT NOT NULL,
  origin TEXT NOT NULL CHECK (origin IN ('measured', 'simulated', 'imported')),
  created_at TEXT NOT NULL,
  rig_identity TEXT NOT NULL,
  total INTEGER NOT NULL CHECK (total >= 0),
  max_attempts INTEGER NOT NULL CHECK (max_attempts >= 1),
  ladder TEXT CHECK (ladder IS NULL OR json_valid(ladder)),
  hidden INTEGER NOT NULL DEFAULT 0 CHECK (hidden IN (0, 1)),
  CHECK ((run_id IS NULL) = (run_position IS NULL))
) STRICT;
INSERT INTO sweep_raised (id, campaign_id, setting, refresh_hz, plan, state, reason, origin, created_at, rig_identity, total,
  max_attempts, ladder, hidden)
SELECT s.id, s.campaign_id, coalesce(json_extract(s.plan, '$.setting'), ''), coalesce(json_extract(s.plan, '$.refreshHz'), 0),
  s.plan, s.state, s.reason,
  CASE WHEN s.origin = 'import' THEN 'imported'
    WHEN c.invented = 1 OR s.rig_identity LIKE 'Slewlight Simulated digitizer%' THEN 'simulated' ELSE 'measured' END,
  s.created_at, s.rig_identity, s.total, s.max_attempts, s.ladder, s.hidden
FROM sweep s LEFT JOIN campaign c ON c.id = s.campaign_id;
DROP TABLE sweep;
ALTER TABLE sweep_raised RENAME TO sweep;
CREATE INDEX sweep_by_campaign ON sweep (campaign_id);
CREATE INDEX sweep_hidden ON sweep (id) WHERE hidden = 1;
CREATE UNIQUE INDEX sweep_in_run ON sweep (run_id, run_position) WHERE run_id IS NOT NULL;

-- Where the data of a campaign come from follows from its sweeps.
ALTER TABLE campaign DROP COLUMN invented;

-- Anything known of a display that is not a transition trace: one value, or a short series of them.
CREATE TABLE reading (
  id INTEGER PRIMARY KEY,
  campaign_id INTEGER NOT NULL REFERENCES campaign (id),
  sweep_id INTEGER REFERENCES sweep (id),
  kind TEXT NOT NULL,
  quantity TEXT NOT NULL,
  unit TEXT NOT NULL,
  value REAL,
  series TEXT CHECK (series IS NULL OR json_valid(series)),
  u REAL CHECK (u IS NULL OR u >= 0),
  source TEXT NOT NULL,
  place TEXT NOT NULL,
  note TEXT NOT NULL,
  at TEXT NOT NULL,
  added_at TEXT NOT NULL,
  hidden INTEGER NOT NULL DEFAULT 0 CHECK (hidden IN (0, 1)),
  CHECK ((value IS NULL) <> (series IS NULL))
) STRICT;
CREATE INDEX reading_by_campaign ON reading (campaign_id, kind);
CREATE TRIGGER reading_kept BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'readings are never deleted'); END;
CREATE TRIGGER reading_fixed BEFORE UPDATE OF
  id, campaign_id, sweep_id, kind, quantity, unit, value, series, u, source, place, note, at, added_at ON reading
  BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;

-- Pictures of traces are drawn from the samples; nothing read these.
DROP TABLE overview;
ALTER TABLE capture DROP COLUMN frame_times;
`,
} as const
