import type { Command } from 'commander'
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { AppError } from '#shared/domain/errors.ts'
import { minute, plural } from '#shared/domain/quantity-text.ts'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import { ALGORITHM, FLAG_IDS, type FlagId } from '#shared/domain/result.ts'
import type { CaptureFilter, CaptureRow } from '#shared/domain/views.ts'
import type { Store } from '#main/core/ports.ts'
import { chooseRecipe, type KnownRecipe } from '../choose-recipe.ts'
import { idOption, integerOption, measureOption, oneOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { labelWithUnit, shownValue } from '../quantities.ts'
import {
  campaignJson,
  captureJson,
  captureRowJson,
  logJson,
  noteJson,
  recipeJson,
  reviewJson,
  sweepJson,
} from '../shapes.ts'
import { showCell } from '../show-cell.ts'
import { sweepReport } from '../sweep-report.ts'
import { resultJson, resultText } from './measure.ts'

export const SHOWN = ['campaigns', 'sweeps', 'sweep', 'cell', 'captures', 'capture', 'log'] as const
type Shown = (typeof SHOWN)[number]

export interface ShowOptions {
  readonly recipe: string
  readonly measure: MeasureId
  readonly cells?: boolean
  readonly budget?: boolean
  readonly campaign?: number
  readonly sweep?: number
  readonly from?: number
  readonly to?: number
  readonly flag?: FlagId
  readonly verdict?: NonNullable<CaptureFilter['verdict']>
  readonly review?: NonNullable<CaptureFilter['review']>
  readonly doubtful?: boolean
  readonly noted?: boolean
  readonly limit: number
}

export function describeShow(command: Command): Command {
  return command
    .description('show what the archive holds')
    .argument('<what>', SHOWN.join(', '), oneOf(SHOWN))
    .argument('[id]', 'sweep or capture number; for a cell that of its sweep', idOption)
    .option('--recipe <recipe>', 'recipe of the results: name, hash or JSON file', DEFAULT_RECIPE.name)
    .option(
      '--measure <measure>',
      'measure of the matrix, or the column of captures',
      measureOption,
      'transition_duration_s',
    )
    .option('--budget', 'cell: what its uncertainty is made of, largest first')
    .option('--cells', 'sweep: every transition with its repeats instead of the matrix')
    .option('--campaign <id>', 'sweeps, captures: of this campaign only', idOption)
    .option('--sweep <id>', 'captures, log: of this sweep only', idOption)
    .option('--from <code>', 'cell: level before the change; captures: from this level only', integerOption(0, 255))
    .option('--to <code>', 'cell: level after it; captures: to this level only', integerOption(0, 255))
    .option('--flag <flag>', 'captures: with this flag only', oneOf(FLAG_IDS))
    .option(
      '--verdict <verdict>',
      'captures: good, dropped-frame, gapped or no-edge only',
      oneOf(['good', 'dropped-frame', 'gapped', 'no-edge'] as const),
    )
    .option(
      '--review <decision>',
      'captures: none, keep, exclude, retake or override only',
      oneOf(['none', 'keep', 'exclude', 'retake', 'override'] as const),
    )
    .option('--doubtful', 'captures: flagged and not reviewed yet only')
    .option('--noted', 'captures: with a note only')
    .option('--limit <n>', 'captures, log: at most so many', integerOption(1, 5000), 200)
    .addHelpText(
      'after',
      `
Examples:
  slewlight show campaigns
  slewlight show sweep 3
  slewlight show sweep 3 --measure overshoot_pct --cells
  slewlight show cell 3 --from 0 --to 255 --budget
  slewlight show captures --sweep 3 --doubtful
  slewlight show capture 17 --recipe "2 L*" --json`,
    )
}

export async function runShow(
  what: Shown,
  id: number | undefined,
  options: ShowOptions,
  store: Store,
  output: Output,
): Promise<void> {
  switch (what) {
    case 'campaigns':
      return showCampaigns(store, output)
    case 'sweeps':
      return showSweeps(store, output, options.campaign)
    case 'sweep':
      return showSweep(store, output, needed(id, 'sweep'), options)
    case 'cell':
      return showCell(store, output, await storedRecipe(store, options.recipe), {
        sweepId: needed(options.sweep ?? id, 'cell'),
        from: options.from,
        to: options.to,
        measure: options.measure,
        budget: options.budget ?? false,
      })
    case 'captures':
      return showCaptures(store, output, options, id)
    case 'capture':
      return showCapture(store, output, needed(id, 'capture'), options)
    case 'log':
      return showLog(store, output, options.sweep ?? id, options.limit)
  }
}

function needed(id: number | undefined, what: string): number {
  if (id !== undefined) return id
  throw new AppError('invalid-input', `Which ${what}?`, `Give its number: slewlight show ${what} <id>.`)
}

async function showCampaigns(store: Store, output: Output): Promise<void> {
  const [campaigns, sweeps] = await Promise.all([store.campaigns(), store.sweeps({})])
  output.result(
    campaigns.map((campaign) => ({
      ...campaignJson(campaign),
      sweeps: sweeps.filter((sweep) => sweep.campaignId === campaign.id).length,
    })),
    () =>
      campaigns.length === 0
        ? 'The archive has no campaign yet.'
        : textTable(
            ['id', 'name', 'display', 'sweeps', 'made, UTC', ''],
            campaigns.map(({ id, name, display, createdAt, origin }) => [
              id,
              name,
              display,
              sweeps.filter((sweep) => sweep.campaignId === id).length,
              minute(createdAt),
              origin === 'simulated' ? 'invented (simulated rig)' : (origin ?? ''),
            ]),
          ),
  )
}

async function showSweeps(store: Store, output: Output, campaignId: number | undefined): Promise<void> {
  const sweeps = await store.sweeps({ campaignId })
  output.result(sweeps.map(sweepJson), () =>
    sweeps.length === 0
      ? 'There is no sweep yet.'
      : textTable(
          ['id', 'campaign', 'setting', 'Hz', 'levels', 'state', 'done', 'missing', 'total', 'made, UTC', ''],
          sweeps.map((sweep) => [
            sweep.id,
            sweep.campaignId,
            sweep.plan.setting,
            sweep.plan.refreshHz,
            sweep.plan.levels.length,
            sweep.state,
            sweep.done,
            // A file brings what it holds; nothing was planned that could be missing.
            sweep.origin === 'imported' ? null : sweep.missing,
            sweep.total,
            minute(sweep.createdAt),
            sweep.reason,
          ]),
        ),
  )
}

/** The recipe among those of the archive. */
export async function storedRecipe(store: Store, text: string): Promise<KnownRecipe> {
  return chooseRecipe(text, await store.recipes())
}

async function showSweep(store: Store, output: Output, sweepId: number, options: ShowOptions): Promise<void> {
  const chosen = await storedRecipe(store, options.recipe)
  const report = await sweepReport(store, sweepId, chosen, options.measure, options.cells)
  const verdicts = await store.verdicts(sweepId)
  output.result(
    { ...report.json, verdicts: Object.fromEntries(verdicts.map(({ verdict, captures }) => [verdict, captures])) },
    () => [report.text, verdictLine(verdicts)].join('\n'),
  )
}

async function showCaptures(store: Store, output: Output, options: ShowOptions, id: number | undefined): Promise<void> {
  const { hash } = await storedRecipe(store, options.recipe)
  const { campaign, from, to, flag, verdict, review, doubtful, noted, limit, measure } = options
  const sweepId = options.sweep ?? id
  const { rows, total } = await store.captures({
    recipeHash: hash,
    ...(campaign === undefined ? {} : { campaignId: campaign }),
    ...(sweepId === undefined ? {} : { sweepId }),
    ...(from === undefined ? {} : { from }),
    ...(to === undefined ? {} : { to }),
    ...(flag === undefined ? {} : { flag }),
    ...(verdict === undefined ? {} : { verdict }),
    ...(review === undefined ? {} : { review }),
    ...(doubtful === true ? { doubtful } : {}),
    ...(noted === true ? { noted } : {}),
    sort: { by: 'id', descending: false },
    offset: 0,
    limit,
  })
  output.result({ total, recipe_hash: hash, captures: rows.map(captureRowJson) }, () =>
    [
      textTable(
        ['id', 'sweep', 'from', 'to', 'repeat', 'attempt', 'verdict', 'review', labelWithUnit(measure), 'flags', ''],
        rows.map(({ info, flags, review: decision, values, ...row }) => [
          info.id,
          info.sweepId,
          info.from,
          info.to,
          info.repeat,
          info.attempt,
          info.verdict,
          decision ?? '',
          shownValue(measure, values?.[measure] ?? null),
          flags.join(' '),
          marksOf(row),
        ]),
      ),
      rows.length < total ? `${rows.length} of ${total} captures; --limit shows more.` : `${plural(total, 'capture')}.`,
    ].join('\n'),
  )
}

/** What else is to be known of a row of the list. */
function marksOf({ overridden, superseded, noted }: Pick<CaptureRow, 'overridden' | 'superseded' | 'noted'>): string {
  return [
    ...(overridden ? ['marks moved by hand'] : []),
    ...(superseded ? ['taken again'] : []),
    ...(noted ? ['note'] : []),
  ].join(', ')
}

async function showCapture(store: Store, output: Output, captureId: number, options: ShowOptions): Promise<void> {
  const chosen = await storedRecipe(store, options.recipe)
  const detail = await store.detail({ captureId, recipeHash: chosen.hash })
  const { info, result, reviews, overridden, ownResult, supersededBy, note } = detail
  output.result(
    {
      capture: captureJson(info),
      recipe: recipeJson(chosen, result?.algorithm ?? ALGORITHM),
      ...(result === null
        ? { result: null, reasons: Object.fromEntries(MEASURE_IDS.map((measure) => [measure, NOT_MEASURED])) }
        : resultJson(result)),
      overridden,
      own_result: ownResult === null ? null : resultJson(ownResult),
      superseded_by: supersededBy,
      note: note === null ? null : noteJson(note),
      reviews: reviews.map(reviewJson),
    },
    () =>
      [
        `Capture ${info.id} of sweep ${info.sweepId}: ${info.from} → ${info.to}, repeat ${info.repeat}, attempt ${info.attempt}, ${info.verdict}`,
        `${info.sampleCount} samples at ${info.sampleRateHz} Hz, taken ${info.takenAt}, from ${info.source}`,
        ...frameLine(info),
        `Recipe: ${chosen.recipe.name} (${chosen.hash})`,
        ...(supersededBy === null ? [] : [`Retaken: capture ${supersededBy} counts in its place.`]),
        ...(overridden ? ['Measured with marks moved by hand; --json has the automatic result beside it.'] : []),
        ...(note === null ? [] : [`Note by ${note.reviewer}, ${note.at}: ${note.text}`]),
        '',
        result === null ? NOT_MEASURED : resultText(result),
        ...reviews.map(
          ({ at, decision, reason, reviewer, undone }) =>
            `${at} ${reviewer}: ${decision}${undone ? ' (undone)' : ''}, ${reason}`,
        ),
      ].join('\n'),
  )
}

const NOT_MEASURED = 'This capture has no result under this recipe yet; `slewlight reanalyse` makes it.'

async function showLog(store: Store, output: Output, sweepId: number | undefined, limit: number): Promise<void> {
  const entries = await store.events({ limit, ...(sweepId === undefined ? {} : { sweepId }) })
  output.result(entries.map(logJson), () =>
    entries
      .map(
        ({ at, level, sweepId: of, text }) => `${at} ${level.padEnd(5)} ${of === null ? '' : `[sweep ${of}] `}${text}`,
      )
      .join('\n'),
  )
}

/** What the display under test said of the frame in which it changed level. */
function frameLine({ frameLog }: CaptureInfo): string[] {
  if (frameLog === null) return []
  const frame = frameLog.frameMs === null ? '' : `frames of ${frameLog.frameMs.toFixed(3)} ms, `
  return [`Display: ${frame}${frameLog.dropped ? 'a frame was dropped at the change' : 'no frame dropped'}.`]
}

/** What was recorded in all, attempts that did not count included. */
function verdictLine(verdicts: readonly { verdict: string; captures: number }[]): string {
  if (verdicts.length === 0) return 'Nothing is recorded yet.'
  return `Recorded: ${verdicts.map(({ verdict, captures }) => `${captures} ${verdict}`).join(', ')}.`
}
