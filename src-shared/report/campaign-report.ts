import { CHAPTER_WORDS, REPORT_CHAPTERS, type ReportChapter } from '#shared/domain/report-chapters.ts'
import { MEASURES } from '#shared/domain/measures.ts'
import { decimalsFor, fixed, hertz, minute, onOneLine, plural, withUncertainty } from '#shared/domain/quantity-text.ts'
import { movingEdgeCaption, movingEdgeData, movingEdgeFigure } from '#shared/figures/moving-edge.ts'
import { matrixFigure } from '#shared/figures/matrix.ts'
import { overRefreshFigure } from '#shared/figures/over-refresh.ts'
import { overviewGrid } from '#shared/figures/overview-grid.ts'
import { pointData } from '#shared/figures/point-data.ts'
import type { FigureElement, FigureHost } from '#shared/figures/svg.ts'
import { traceFigure } from '#shared/figures/trace.ts'
import { answer, type CampaignAnswer } from '#shared/findings/campaign/answer.ts'
import { type Estimate, u95Of } from '#shared/findings/campaign/estimate.ts'
import { FIGURE_IDS, type FigureId, FIGURES, intervalOf } from '#shared/findings/campaign/figures.ts'
import { limitsText, type Sentence, sentences } from '#shared/findings/campaign/sentences.ts'
import type { CampaignReportInput } from './campaign-input.ts'
import { budgetSection, cautionsSection } from './doubts.ts'
import { recipeRows } from './recipe-rows.ts'
import { STROBE_COLUMNS, strobeRows } from '#shared/findings/campaign/strobe-places.ts'
import { strobeSentences } from '#shared/findings/campaign/strobe-sentences.ts'
import { recordSection } from './record-section.ts'
import type { ReportBlock, ReportDocument, ReportFigure, ReportSection } from './document.ts'

/** The report of one campaign; the same input gives the same document. */
export function campaignReport(
  host: FigureHost,
  input: CampaignReportInput,
  chapters: readonly ReportChapter[] = REPORT_CHAPTERS,
): ReportDocument {
  const found = answer(input.points, input.limits, input.weighting)
  const made: Record<ReportChapter, () => ReportSection> = {
    overview: () => overview(host, input, found),
    findings: () => findings(host, input, found),
    matrices: () => matrices(host, input),
    traces: () => traces(host, input),
    edges: () => edges(host, input),
    record: () => recordSection(host, input.record),
    method: () => method(input),
    budget: () => budgetSection(input),
    cautions: () => cautionsSection(input, found),
    provenance: () => provenance(input),
  }
  return {
    title: input.display,
    subtitle: `${input.campaign}. Response of the display, measured with recipe “${input.recipe.name}”.`,
    warning: input.invented ? 'Invented display: these numbers come from a simulated rig.' : '',
    sections: [
      answerSection(input, found),
      ...REPORT_CHAPTERS.filter((chapter) => chapters.includes(chapter)).map((chapter) => made[chapter]()),
    ].filter(({ blocks }) => blocks.length > 0),
  }
}

function answerSection({ limits, points }: CampaignReportInput, found: CampaignAnswer): ReportSection {
  const answers = sentences(found, limits)
  const blocks: ReportBlock[] =
    answers.length === 0
      ? [{ kind: 'paragraph', text: 'Nothing has been measured yet.' }]
      : [
          { kind: 'answer', text: answers[0]?.text ?? '' },
          { kind: 'list', items: answers.slice(1, 1 + found.ranges.length).map(({ text }) => text) },
          {
            kind: 'paragraph',
            text: `“Usable” means ${limitsText(limits)}, with the whole 95 % interval within the limit. These limits are a choice, not a standard. Nothing beyond the ${plural(points.length, 'combination')} of setting and refresh rate measured is claimed.`,
          },
        ]
  return { id: 'answer', heading: 'Answer', blocks }
}

function overview(host: FigureHost, { points }: CampaignReportInput, found: CampaignAnswer): ReportSection {
  const used = FIGURE_IDS.filter((id) => points.some(({ figures }) => figures[id] !== null))
  return {
    id: 'overview',
    heading: CHAPTER_WORDS.overview,
    blocks: [
      ...(['duration_mean', 'overshoot_mean'] as const)
        .filter((id) => used.includes(id))
        .map((id) =>
          figure(
            overviewGrid(host, id, found.ranges),
            `overview-${id}`,
            `${FIGURES[id].label}, ${FIGURES[id].unit === 's' ? 'ms' : '%'}, with U95. A strong frame: usable. ✕: not usable. ?: the limit lies inside the uncertainty.`,
            pointData(points, id),
          ),
        ),
      // Two tables, so that their numbers stand on one line on paper too.
      ...(['s', '%'] as const).flatMap((unit) => figureTable(points, unit, used)),
    ],
  }
}

function figureTable(points: CampaignReportInput['points'], unit: 's' | '%', used: readonly FigureId[]): ReportBlock[] {
  const own = used.filter((id) => FIGURES[id].unit === unit)
  if (own.length === 0) return []
  const scale = unit === 's' ? 1000 : 1
  return [
    {
      kind: 'table',
      caption: `Figures of every sweep with U95, ${unit === 's' ? 'ms' : '%'}`,
      columns: [
        { heading: 'Setting', align: 'left' },
        { heading: 'Hz', align: 'right' },
        ...own.map((id) => ({ heading: FIGURES[id].label, align: 'right' as const })),
      ],
      rows: points.map(({ setting, refreshHz, figures }) => [
        setting,
        hertz(refreshHz),
        ...own.map((id) => {
          const estimate = figures[id]
          if (estimate === null) return '–'
          return onOneLine(valueText(id, estimate, scale))
        }),
      ]),
    },
  ]
}

/** A share cut at 0 or 100 % is given by the ends of its interval: `5 (0 to 14)`. */
function valueText(id: FigureId, estimate: Estimate, scale: number): string {
  const u95 = u95Of(estimate)
  const { value } = estimate
  const { low, high } = intervalOf(id, estimate)
  if (u95 !== null && (low > value - u95 || high < value + u95)) {
    const decimals = decimalsFor(u95, 4)
    return `${fixed(value, decimals)} (${fixed(low, decimals)} to ${fixed(high, decimals)})`
  }
  return withUncertainty(value * scale, u95 === null ? null : u95 * scale, '')
}

function findings(
  host: FigureHost,
  { points, limits, strobe }: CampaignReportInput,
  found: CampaignAnswer,
): ReportSection {
  const drawn = (
    ['duration_mean', 'in_window_share', 'overshoot_mean', 'dark_mean', 'blur_edge_mean', 'crosstalk_mean'] as const
  ).filter((id) => points.filter(({ figures }) => figures[id] !== null).length > 1)
  return {
    id: 'findings',
    heading: CHAPTER_WORDS.findings,
    blocks: [
      ...told([...sentences(found, limits).slice(1 + found.ranges.length), ...strobeSentences(strobe, points)]),
      {
        kind: 'paragraph',
        text: 'A difference is stated only where it holds at 5 % over all differences of its kind. What the settings share (detector, ladder, recipe) cancels in differences and is left out of them.',
      },
      ...strobeTable(strobe),
      ...drawn.map((id) =>
        figure(
          overRefreshFigure(host, id, points, limits),
          `over-refresh-${id}`,
          `${FIGURES[id].label} over refresh. Bands and bars are U95. Lines guide the eye; nothing is claimed between measured rates.`,
          pointData(points, id),
        ),
      ),
    ],
  }
}

/** Several differences of one pair stand in a list of their own, under what they are of. */
function told(all: readonly Sentence[]): ReportBlock[] {
  const single = all.filter(({ list }) => list === undefined).map(({ text }) => text)
  return [
    ...all.flatMap(({ list }): ReportBlock[] =>
      list === undefined
        ? []
        : [
            { kind: 'paragraph', text: `${list.lead}:` },
            { kind: 'list', items: list.items },
          ],
    ),
    ...(single.length === 0 ? [] : [{ kind: 'list' as const, items: single }]),
  ]
}

function strobeTable(strobe: CampaignReportInput['strobe']): ReportBlock[] {
  if (strobe.length === 0) return []
  return [
    {
      kind: 'table',
      caption: 'Strobe crosstalk by place on the screen, percent of the step with U95, signed',
      columns: STROBE_COLUMNS.map((heading) => ({ heading, align: heading === 'Refresh, Hz' ? 'right' : 'left' })),
      rows: strobeRows(strobe),
    },
  ]
}

function matrices(host: FigureHost, { matrices: all }: CampaignReportInput): ReportSection {
  const values = all.flatMap(({ cells }) => cells.flatMap(({ mean }) => (mean === null ? [] : [mean * 1000])))
  const worst = values.reduce((a, b) => Math.max(a, b), 0)
  return {
    id: 'matrices',
    heading: CHAPTER_WORDS.matrices,
    blocks: all.map(({ sweepId, setting, refreshHz, cells }) => {
      const frameMs = 1000 / refreshHz
      return figure(
        matrixFigure(
          host,
          { id: `matrix-${sweepId}`, description: `Transition durations of ${setting} at ${hertz(refreshHz)} Hz.` },
          cells.map(({ from, to, mean }) => {
            const value = mean === null ? null : mean * 1000
            return { from, to, value, outside: value !== null && value > frameMs }
          }),
          [0, worst],
          worst < 10 ? 2 : 1,
        ),
        `matrix-${sweepId}`,
        `${setting}, ${hertz(refreshHz)} Hz: transition duration, ms. ${
          cells.some(({ mean }) => mean !== null)
            ? `A corner mark: longer than the refresh period of ${fixed(frameMs, 2)} ms. All matrices share one scale.`
            : 'No transition has a value under this recipe.'
        }`,
        {
          columns: ['from_code', 'to_code', 'n', 'mean_s', 'u95_s'],
          rows: cells.map(({ from, to, n, mean, u95 }) => [from, to, n, mean, u95]),
        },
      )
    }),
  }
}

function traces(host: FigureHost, { worst }: CampaignReportInput): ReportSection {
  return {
    id: 'traces',
    heading: CHAPTER_WORDS.traces,
    blocks: worst.map(({ captureId, setting, refreshHz, from, to, durationS, u95S, envelope, marks }) =>
      figure(
        traceFigure(
          host,
          { id: `trace-${captureId}`, description: `Recorded light of the step from ${from} to ${to}.` },
          envelope,
          marks,
          1000 / refreshHz,
        ),
        `trace-${captureId}`,
        `${setting}, ${hertz(refreshHz)} Hz, ${from} → ${to}: ${withUncertainty(durationS, u95S, 's')}. Capture ${captureId}. Dotted lines: onset, and one refresh period after it. “low” and “high”: where the light crosses the two levels its duration is between; “settled”: from there it stays within the end band.`,
        {
          columns: ['time_ms', 'low_pct', 'high_pct'],
          rows: envelope.map(({ timeMs, lowPct, highPct }) => [timeMs, lowPct, highPct]),
        },
      ),
    ),
  }
}

function edges(host: FigureHost, { edges: all }: CampaignReportInput): ReportSection {
  return {
    id: 'edges',
    heading: CHAPTER_WORDS.edges,
    blocks: all.map((edges) => {
      const { refreshHz, pixelsPerS, peak, pictures } = edges
      const id = `moving-edge-${hertz(refreshHz).replace('.', '-')}`
      const description = `Computed moving edges of all settings at ${hertz(refreshHz)} Hz.`
      return figure(
        movingEdgeFigure(host, { id, description }, pictures, pixelsPerS, peak),
        id,
        `${movingEdgeCaption(edges, pixelsPerS)}${all.length > 1 ? ' Drawn for the lowest and the highest rate.' : ''}`,
        movingEdgeData(pictures),
      )
    }),
  }
}

function method({ recipe, recipeHash, algorithm }: CampaignReportInput): ReportSection {
  return {
    id: 'method',
    heading: CHAPTER_WORDS.method,
    blocks: [
      {
        kind: 'paragraph',
        text: 'A photodiode watches a patch; the patch steps through every ordered pair of grey levels; every raw trace is kept and measured outward from its 50 % crossing. Definitions are modelled on IEEE Std 181 (durations, levels, aberrations; not checked against its text); uncertainties follow the GUM (JCGM 100).',
      },
      {
        kind: 'table',
        caption: `Recipe “${recipe.name}”, fingerprint ${recipeHash}, algorithm version ${algorithm}`,
        columns: [
          { heading: 'Parameter', align: 'left' },
          { heading: 'Value', align: 'left' },
        ],
        rows: recipeRows(recipe),
      },
      {
        kind: 'list',
        items: (['transition_duration_s', 'settling_s', 'overshoot_pct', 'in_window', 'blur_edge_s'] as const).map(
          (id) => `${MEASURES[id].label}: ${MEASURES[id].meaning}`,
        ),
      },
      {
        kind: 'paragraph',
        text: 'U95 is the half width of a 95 % interval of what was measured on this display, with this rig; another unit of the same display may differ by more. Numbers shown as context are no verdict on safety.',
      },
    ],
  }
}

function provenance({ version, counts, rigs, takenFrom, takenTo, note, invented }: CampaignReportInput): ReportSection {
  const { captures, flagged, excluded, missing } = counts
  return {
    id: 'provenance',
    heading: CHAPTER_WORDS.provenance,
    blocks: [
      {
        kind: 'list',
        items: [
          ...(note === '' ? [] : [note]),
          `${captures} captures, ${flagged} with a flag, ${excluded} excluded by a person, ${missing} missing.`,
          takenFrom === null || takenTo === null
            ? 'No capture.'
            : minute(takenFrom) === minute(takenTo)
              ? `Taken at ${minute(takenFrom)}, UTC.`
              : `Taken from ${minute(takenFrom)} to ${minute(takenTo)}, UTC.`,
          ...rigs.map((rig) => `Rig: ${rig}${invented && !/simulat/i.test(rig) ? ' (simulated)' : ''}`),
          `Analysed by Slewlight ${version}.`,
        ],
      },
    ],
  }
}

function figure(element: FigureElement, id: string, caption: string, data: ReportFigure['data']): ReportFigure {
  return {
    kind: 'figure',
    id: id.replaceAll('_', '-'),
    caption,
    description: element.getAttribute('aria-label') ?? caption,
    svg: element.outerHTML,
    data,
  }
}
