/** What a reader has to know before a number of a report is used: where its uncertainty comes from, and what was found. */
import { fixed, hertz, plural } from '#shared/domain/quantity-text.ts'
import { CHAPTER_WORDS } from '#shared/domain/report-chapters.ts'
import { DETECTOR_NOT_STATED } from '#shared/domain/result.ts'
import type { CampaignAnswer } from '#shared/findings/campaign/answer.ts'
import { asOwn, u95Of } from '#shared/findings/campaign/estimate.ts'
import { FIGURES, type FigureId, FIGURE_IDS } from '#shared/findings/campaign/figures.ts'
import type { CampaignReportInput } from './campaign-input.ts'
import type { ReportSection } from './document.ts'

const BUDGETED: readonly FigureId[] = ['duration_mean', 'overshoot_mean']
/** Degrees of freedom beyond which their number tells nothing. */
const MANY = 1000

/** What the uncertainty of each sweep's means is made of. */
export function budgetSection({ points }: CampaignReportInput): ReportSection {
  const stated = BUDGETED.filter((id) => points.some(({ figures }) => figures[id]?.u != null))
  return {
    id: 'budget',
    heading: CHAPTER_WORDS.budget,
    blocks: [
      {
        kind: 'paragraph',
        text: 'Standard uncertainties of the means over all transitions. “Repeats” is what more captures would average: noise, the place of samples in the edge, what differs from capture to capture. “Shared” is what they would not: detector, converter, time base, levels, what is left in the trace; it moves all sweeps alike and cancels in differences between settings. U95 is Student’s factor for the effective degrees of freedom (Welch–Satterthwaite) times both together.',
      },
      ...stated.map((id) => {
        const { unit, label } = FIGURES[id]
        const scale = unit === 's' ? 1e6 : 1
        const shown = (value: number | null): string =>
          value === null ? '–' : fixed(value * scale, unit === 's' ? 1 : 3)
        const suffix = unit === 's' ? 'µs' : 'points'
        return {
          kind: 'table' as const,
          caption: label,
          columns: [
            { heading: 'Setting', align: 'left' as const },
            ...['Hz', `Repeats, ${suffix}`, `Shared, ${suffix}`, 'Effective degrees of freedom', `U95, ${suffix}`].map(
              (heading) => ({
                heading,
                align: 'right' as const,
              }),
            ),
          ],
          rows: points.flatMap(({ setting, refreshHz, figures }) => {
            const estimate = figures[id]
            if (estimate === null) return []
            const { u, shared } = estimate
            const { dof } = asOwn(estimate)
            const freedom = u === null ? '–' : dof > MANY ? `over ${MANY}` : fixed(dof, dof < 10 ? 1 : 0)
            return [[setting, hertz(refreshHz), shown(u), shown(shared), freedom, shown(u95Of(estimate))]]
          }),
        }
      }),
    ],
  }
}

/** What speaks against numbers of the report, or limits what they say. */
export function cautionsSection(
  { points, counts, recipe, invented, drifts }: CampaignReportInput,
  { ranges }: CampaignAnswer,
): ReportSection {
  const { captures, flagged, excluded, missing } = counts
  const without = points.filter(({ figures }) =>
    FIGURE_IDS.some((id) => figures[id] !== null && u95Of(figures[id]) === null),
  )
  const open = ranges.flatMap(({ points: judged }) => judged).filter(({ verdict }) => verdict === 'cannot-tell')
  const items = [
    invented ? 'The display is invented and its light simulated: no number here is of a real display.' : '',
    'One unit of the display was measured, at one place of its screen, on one rig. Another unit, another place or a warmer room may differ by more than U95.',
    flagged === 0 ? '' : `${flagged} of ${captures} captures carry a flag; they count unless a person excluded them.`,
    excluded === 0 ? '' : `${excluded} captures were excluded by a person and count in no mean.`,
    missing === 0 ? '' : `${missing} planned captures are missing.`,
    open.length === 0
      ? ''
      : `At ${open.length} of ${points.length} combinations a limit lies inside the uncertainty: more repeats may decide them.`,
    without.length === 0
      ? ''
      : `${plural(without.length, 'sweep has a figure', 'sweeps have figures')} without an uncertainty, for want of repeats; nothing is decided by them.`,
    recipe.detectorS === null ? DETECTOR_NOT_STATED : '',
    ...drifts,
    'Flicker, blur and crosstalk are given as context; no number here is a verdict on safety or comfort.',
  ].filter((item) => item !== '')
  return { id: 'cautions', heading: CHAPTER_WORDS.cautions, blocks: [{ kind: 'list', items }] }
}
