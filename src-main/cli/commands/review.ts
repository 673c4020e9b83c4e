import type { Command } from 'commander'
import { InvalidArgumentError } from 'commander'
import { newNoteSchema, type HistoryEntry, type RetakeEntry, type UndoAnswer } from '#shared/domain/desk.ts'
import { AppError } from '#shared/domain/errors.ts'
import { newReviewSchema, type Override, type ReviewDecision } from '#shared/domain/views.ts'
import type { Core } from '#main/core/facade.ts'
import type { Store } from '#main/core/ports.ts'
import type { CliHost } from '../host.ts'
import { idOption, integerOption, numberOption, oneOf, problemsOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { historyJson, noteJson, retakeJson, reviewJson } from '../shapes.ts'

const REVIEW_ACTIONS = ['list', 'add', 'note', 'undo', 'redo', 'retakes'] as const
export type ReviewAction = (typeof REVIEW_ACTIONS)[number]

type Span = [number, number]

export interface ReviewOptions {
  readonly archive: string
  readonly decision?: ReviewDecision
  readonly reason?: string
  readonly reviewer?: string
  readonly before?: Span
  readonly after?: Span
  readonly span?: Span
  readonly low?: number
  readonly high?: number
  readonly sweep?: number
  readonly limit: number
}

const instant = numberOption(0, 1000)

/** `0.01,0.04`: two instants, s. */
function spanOption(text: string): Span {
  const [a, b, ...more] = text.split(',').map(instant)
  if (a === undefined || b === undefined || more.length > 0 || !(b > a))
    throw new InvalidArgumentError('It must be two instants in s, the earlier one first, as in 0.01,0.04.')
  return [a, b]
}

export function describeReview(command: Command): Command {
  return command
    .description('review captures, add notes to them, and undo either')
    .argument('<action>', REVIEW_ACTIONS.join(', '), oneOf(REVIEW_ACTIONS))
    .argument('[capture]', 'add, note: the capture; list: its history only', idOption)
    .argument('[text]', 'note: what it says; an empty text removes the note')
    .option(
      '--decision <decision>',
      'add: keep, exclude, retake or override',
      oneOf(['keep', 'exclude', 'retake', 'override'] as const),
    )
    .option('--reason <text>', 'add: why')
    .option('--reviewer <name>', 'add, note: who')
    .option('--before <s,s>', 'override: window of the level before the step, s from the first sample', spanOption)
    .option('--after <s,s>', 'override: window of the level after it', spanOption)
    .option('--span <s,s>', 'override: part of the record that is analysed', spanOption)
    .option('--low <s>', 'override: instant of the first reference crossing', instant)
    .option('--high <s>', 'override: instant of the second', instant)
    .option('--sweep <id>', 'retakes: of this sweep only', idOption)
    .option('--limit <n>', 'list: at most so many, the newest', integerOption(1, 2000), 200)
    .addHelpText(
      'after',
      `
Examples:
  slewlight review add 17 --decision exclude --reason "Lamp was on" --reviewer "A. Operator"
  slewlight review add 17 --decision override --after 0.20,0.24 --reason "Drift at the end" --reviewer "A. Operator"
  slewlight review add 18 --decision retake --reason "Cable touched" --reviewer "A. Operator"
  slewlight review retakes                  (what \`sweep --resume\` takes again)
  slewlight review note 17 "Seen again on 3 other captures" --reviewer "A. Operator"
  slewlight review undo                     (the newest step; again for the one before it)
  slewlight review list --json

Nothing is deleted: raw data, earlier results and what was taken back stay in the archive. Where there is nothing to
undo or redo, the exit code is 6.`,
    )
}

export async function runReview(
  action: ReviewAction,
  captureId: number | undefined,
  text: string | undefined,
  options: ReviewOptions,
  host: CliHost,
  output: Output,
): Promise<void> {
  if (action === 'list' || action === 'retakes') {
    const store = await host.openStore(options.archive, 'look')
    try {
      await (action === 'list'
        ? listHistory(store, captureId, options.limit, output)
        : listRetakes(store, options, output))
    } finally {
      await store.close()
    }
    return
  }
  // Looked at before the archive is opened.
  const work = workOf(action, captureId, text, options, output)
  const opened = await host.openCore({ archive: options.archive, stimulusPage: false, speed: 1, create: false })
  try {
    await work(opened.core)
  } finally {
    await opened.close()
  }
}

function workOf(
  action: Exclude<ReviewAction, 'list' | 'retakes'>,
  captureId: number | undefined,
  text: string | undefined,
  options: ReviewOptions,
  output: Output,
): (core: Core) => Promise<void> {
  if (action === 'add') return addReview(neededCapture(captureId, action), options, output)
  if (action === 'note') return addNote(neededCapture(captureId, action), text, options, output)
  return async (core) => report(await core.reviews[action](), action, output)
}

function neededCapture(captureId: number | undefined, action: string): number {
  if (captureId !== undefined) return captureId
  throw new AppError(
    'invalid-input',
    `Which capture? \`review ${action}\` needs its number.`,
    'See `slewlight show captures`.',
  )
}

function overrideOf({ before, after, span, low, high }: ReviewOptions): Override {
  return {
    ...(before === undefined ? {} : { beforeWindow: before }),
    ...(after === undefined ? {} : { afterWindow: after }),
    ...(span === undefined ? {} : { span }),
    ...(low === undefined ? {} : { crossLowS: low }),
    ...(high === undefined ? {} : { crossHighS: high }),
  }
}

function addReview(captureId: number, options: ReviewOptions, output: Output): (core: Core) => Promise<void> {
  const { decision, reason, reviewer } = options
  const marks = overrideOf(options)
  const marked = Object.keys(marks).length > 0
  if (decision === undefined)
    throw new AppError(
      'invalid-input',
      'The decision is missing.',
      'Give --decision keep, exclude, retake or override.',
    )
  if (decision !== 'override' && marked)
    throw new AppError(
      'invalid-input',
      `Marks are moved by an override, not by ${decision}.`,
      'Give --decision override.',
    )
  if (decision === 'override' && !marked)
    throw new AppError(
      'invalid-input',
      'An override needs the marks it moves.',
      'Give --before, --after, --span, --low or --high.',
    )
  const review = newReviewSchema.safeParse({
    captureId,
    decision,
    reason: reason ?? '',
    reviewer: reviewer ?? '',
    override: marked ? marks : null,
  })
  if (!review.success)
    throw new AppError('invalid-input', problemsOf(review.error), 'Give --reason and --reviewer, each with some text.')
  return async (core) => {
    const entry = await core.reviews.add(review.data)
    const { undo } = await core.reviews.steps()
    output.result({ capture_id: captureId, review: reviewJson(entry), undo }, () => `Done: ${undo ?? decision}.`)
  }
}

function addNote(
  captureId: number,
  text: string | undefined,
  options: ReviewOptions,
  output: Output,
): (core: Core) => Promise<void> {
  if (text === undefined)
    throw new AppError(
      'invalid-input',
      'The text of the note is missing.',
      'Give its text, or an empty text to remove it.',
    )
  const note = newNoteSchema.safeParse({ captureId, text, reviewer: options.reviewer ?? '' })
  if (!note.success)
    throw new AppError('invalid-input', problemsOf(note.error), 'Give --reviewer, and at most 2000 characters.')
  return async (core) => {
    const entry = await core.captures.setNote(note.data)
    const { undo } = await core.reviews.steps()
    output.result({ capture_id: captureId, note: noteJson(entry), undo }, () => `Done: ${undo ?? 'note'}.`)
  }
}

function report(answer: UndoAnswer | null, what: 'undo' | 'redo', output: Output): void {
  if (answer === null)
    throw new AppError('conflict', `There is nothing to ${what}.`, 'See `slewlight review list` for what was done.')
  output.result({ words: answer.words, step: historyJson(answer.entry) }, () => answer.words)
}

async function listHistory(store: Store, captureId: number | undefined, limit: number, output: Output): Promise<void> {
  // A number that is not there would otherwise look like a capture that nobody has touched.
  if (captureId !== undefined) await store.capture(captureId)
  const entries = await store.history({ limit, ...(captureId === undefined ? {} : { captureId }) })
  output.result(entries.map(historyJson), () =>
    entries.length === 0
      ? 'Nothing has been decided or noted yet.'
      : textTable(['step', 'at', 'who', 'what', '', 'why or text'], entries.map(historyRow)),
  )
}

const historyRow = ({ id, at, reviewer, words, undone, text }: HistoryEntry): (string | number)[] => [
  id,
  at,
  reviewer,
  words,
  undone ? 'undone' : '',
  text,
]

async function listRetakes(store: Store, { sweep }: ReviewOptions, output: Output): Promise<void> {
  const entries = await store.retakes({ sweepId: sweep })
  output.result(entries.map(retakeJson), () =>
    entries.length === 0
      ? 'No capture is waiting to be retaken.'
      : textTable(
          ['sweep', 'setting', 'Hz', 'capture', 'from', 'to', 'repeat', 'tried', 'who', 'why', ''],
          entries.map(retakeRow),
        ),
  )
}

const retakeRow = (entry: RetakeEntry): (string | number)[] => [
  entry.sweepId,
  entry.setting,
  entry.refreshHz,
  entry.captureId,
  entry.from,
  entry.to,
  entry.repeat,
  entry.attempts,
  entry.reviewer,
  entry.reason,
  entry.obstacle,
]
