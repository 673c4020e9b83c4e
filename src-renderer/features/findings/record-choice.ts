import { compareRecords, type RecordedDisplay } from '#shared/findings/campaign/record-compare.ts'
import { RECORD_FIGURE_IDS, type RecordFigureId } from '#shared/record/figures.ts'

/** Figures of the record that at least two displays have, and the one shown until another is chosen. */
export function figuresToCompare(displays: readonly RecordedDisplay[]): {
  readonly offered: readonly RecordFigureId[]
  /** The first that two displays have measured alike; of none, the first; null without any. */
  readonly usual: RecordFigureId | null
} {
  const offered = RECORD_FIGURE_IDS.filter(
    (id) => displays.filter(({ record }) => record.some(({ figure }) => figure === id)).length > 1,
  )
  const usual = offered.find((id) => compareRecords(displays, id).entries.length > 1)
  return { offered, usual: usual ?? offered[0] ?? null }
}
