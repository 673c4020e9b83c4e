import { CELL_ROWS } from './cell-rows.ts'
import { CODE_ROWS } from './code-rows.ts'
import { COLOUR_ROWS } from './colour-rows.ts'
import { CONDITIONING_ROWS } from './conditioning-rows.ts'
import { LIGHT_ROWS } from './light-rows.ts'
import { LINE_ROWS } from './line-rows.ts'
import { NOISE_ROWS } from './noise-rows.ts'
import { PERIODIC_ROWS } from './periodic-rows.ts'
import type { CheckRow } from './row.ts'
import { STATISTICS_ROWS } from './statistics-rows.ts'
import { STEP_ROWS } from './step-rows.ts'

/** Every check value, in the order of the list. */
export const ALL_ROWS: readonly CheckRow[] = [
  ...STEP_ROWS,
  ...PERIODIC_ROWS,
  ...CONDITIONING_ROWS,
  ...STATISTICS_ROWS,
  ...CODE_ROWS,
  ...LINE_ROWS,
  ...NOISE_ROWS,
  ...CELL_ROWS,
  ...COLOUR_ROWS,
  ...LIGHT_ROWS,
].sort((a, b) => Number.parseInt(a.id, 10) - Number.parseInt(b.id, 10))
