/** When the stimulus answered, counted from the bus trigger. Frozen: later changes are later migrations. */
export const triggerTime = {
  version: 4,
  name: 'trigger-time',
  sql: `
ALTER TABLE capture ADD COLUMN frame_since_trigger_s REAL;
`,
}
