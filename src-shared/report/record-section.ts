import { onOneLine } from '#shared/domain/quantity-text.ts'
import { CHAPTER_WORDS } from '#shared/domain/report-chapters.ts'
import { recordFigures } from '#shared/figures/record.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import type { RecordFigure } from '#shared/record/figures.ts'
import { figureText, groupOf } from '#shared/record/quantity.ts'
import { quantitiesOf, type DisplayRecord } from '#shared/record/record.ts'
import { TARGETS } from '#shared/colour/targets.ts'
import type { ReportBlock, ReportSection } from './document.ts'

const remarked = (figures: readonly RecordFigure[]): boolean => figures.some(({ note = '' }) => note !== '')

const groupsOf = (figures: readonly RecordFigure[]): string[] => [
  ...new Set(figures.map((figure) => groupOf(figure.label)[0])),
]

function figureTable(caption: string, figures: readonly RecordFigure[]): ReportBlock {
  const withRemarks = remarked(figures)
  return {
    kind: 'table',
    caption,
    columns: [
      { heading: 'Figure', align: 'left' },
      { heading: 'Value', align: 'right' },
      ...(withRemarks ? [{ heading: 'Remark', align: 'left' as const }] : []),
    ],
    rows: figures.map((figure) => [
      groupOf(figure.label)[1],
      onOneLine(figureText(figure)),
      ...(withRemarks ? [figure.note ?? ''] : []),
    ]),
  }
}

/** What is known of the display beyond its transitions; no blocks, and so no chapter, where nothing is. */
export function recordSection(host: FigureHost, record: DisplayRecord): ReportSection {
  const measured = quantitiesOf(record).filter(({ figures }) => figures.length > 0)
  const figures = measured.length === 0 ? [] : recordFigures(record)
  const blocks = measured.flatMap(({ id, label, figures: values, missing }): ReportBlock[] => [
    ...groupsOf(values).map((group, i) =>
      figureTable(
        `${label}${group === '' ? '' : `: ${group}`}${missing.length === 0 || i > 0 ? '' : `. Still needed: ${missing.join(' ')}`}`,
        values.filter((figure) => groupOf(figure.label)[0] === group),
      ),
    ),
    ...figures
      .filter(({ quantity }) => quantity === id)
      .map((view): ReportBlock => {
        const element = view.draw(host)
        return {
          kind: 'figure',
          id: `record-${view.id}`,
          caption: view.caption,
          description: element.getAttribute('aria-label') ?? view.caption,
          svg: element.outerHTML,
          data: view.data,
        }
      }),
  ])
  const opening: ReportBlock[] =
    blocks.length === 0
      ? []
      : [
          {
            kind: 'paragraph',
            text: `Colours are judged against ${TARGETS[record.choice.target].label}, differences against the white of the ${record.choice.white}. The readings themselves are in the evidence bundle.`,
          },
        ]
  return { id: 'record', heading: CHAPTER_WORDS.record, blocks: [...opening, ...blocks] }
}
