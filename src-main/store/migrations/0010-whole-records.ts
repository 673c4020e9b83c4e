/** Schema version 10: check values of latency records; setting and refresh rate of readings. Frozen; imports nothing. */
export const wholeRecords = {
  version: 10,
  name: 'whole-records',
  sql: `
-- CRC-32 of \`samples\` followed by \`second_samples\`; NULL in records of before.
ALTER TABLE latency_event ADD COLUMN crc32 INTEGER;

-- What the display was set to, where a reading is of one setting and refresh rate.
ALTER TABLE reading ADD COLUMN setting TEXT;
ALTER TABLE reading ADD COLUMN refresh_hz REAL;
-- Readings of strobing had it at the beginning of their note: 'Setting Strong at 144 Hz.'
UPDATE reading SET setting = said.setting, refresh_hz = said.refresh_hz
FROM (
  SELECT id, substr(ahead, 1, length(ahead) - 4) AS setting, CAST(substr(head, length(ahead) + 1) AS REAL) AS refresh_hz
  FROM (
    SELECT id, head, rtrim(head, '0123456789.') AS ahead
    FROM (
      SELECT id, substr(note, 9, instr(note, ' Hz.') - 9) AS head
      FROM reading WHERE kind = 'strobe' AND substr(note, 1, 8) = 'Setting ' AND instr(note, ' Hz.') > 9
    )
  )
  WHERE length(ahead) > 4 AND substr(ahead, -4) = ' at ' AND CAST(substr(head, length(ahead) + 1) AS REAL) > 0
) said
WHERE reading.id = said.id;
DROP TRIGGER reading_fixed;
CREATE TRIGGER reading_fixed BEFORE UPDATE OF
  id, campaign_id, sweep_id, kind, quantity, unit, value, series, u, source, place, note, at, added_at, setting, refresh_hz
  ON reading BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;
`,
} as const
