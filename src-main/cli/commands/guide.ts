/** `guide`: a guided sequence of the record at the terminal. */
import type { Command } from 'commander'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import {
  guidedPlanSchema,
  READ_BY,
  SEQUENCE_IDS,
  SEQUENCES,
  WAYS,
  type GuidedAnswer,
  type GuidedPlan,
  type GuidedProgress,
  type ReadBy,
  type SequenceId,
} from '#shared/domain/guided.ts'
import { meterAt } from '#shared/domain/meter.ts'
import { decodeText } from '#shared/import/decode.ts'
import { MAX_CGATS_BYTES } from '#shared/import/cgats.ts'
import { readPatchList } from '#shared/import/patch-list.ts'
import type { Core } from '#main/core/facade.ts'
import { knownCampaign } from '../campaigns.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliHost, CliProcess } from '../host.ts'
import { readInputFile } from '../input-file.ts'
import { followJob } from '../job.ts'
import { addRunningOptions, idOption, integerOption, numberOption, oneOf, problemsOf } from '../options.ts'
import type { Output } from '../output.ts'
import { addRigOptions, addStimulusOption, rigTargetOf, type RigOptions, type StimulusOption } from '../plan-options.ts'
import { type LightCore, pageAttached, withLight } from '../open-rig.ts'

export interface GuideOptions extends RigOptions {
  readonly archive: string
  readonly by?: ReadBy
  readonly meter?: string
  readonly query: string
  readonly u?: number
  readonly source: string
  readonly setting: string
  readonly refresh: number
  readonly range: number
  readonly places: number
  readonly list?: string
  readonly vertical?: boolean
  readonly minutes: number
  readonly patches?: string
  readonly rgbMax: '1' | '100' | '255'
  readonly label: string
  readonly frameSignal?: boolean
  readonly settle: number
  readonly repeats: number
  readonly resume?: number
  readonly stimulus?: StimulusOption
  readonly speed: number
  readonly iUnderstandFlashing?: boolean
}

export function describeGuide(command: Command): Command {
  command
    .description('guided sequences of the record: where to put sensor or meter, one reading after the other')
    .argument('<campaign>', 'campaign by name or number')
    .argument('[sequence]', SEQUENCE_IDS.join(', '), oneOf(SEQUENCE_IDS))
    .option('--by <who>', 'who reads; the usual way of the sequence when left out', oneOf(READ_BY))
    .option('--meter <where>', 'tcp://HOST:PORT, or a serial port with its rate such as /dev/ttyUSB0,9600')
    .option('--query <query>', 'what the meter is asked', 'MEAS?')
    .option('--u <number>', 'standard uncertainty of what a meter or a person says', numberOption(0, 1e6))
    .option('--source <text>', 'instrument', '')
    .option('--setting <name>', 'strobing: the setting of the display', 'Off')
    .option('--refresh <hz>', 'refresh rate of the display', numberOption(10, 1000), 60)
    .option('--range <v>', 'full scale of the digitizer input', numberOption(0.001, 100), 5)
    .option('--places <n>', 'uniformity: 9 or 25', integerOption(9, 25), 9)
    .option('--list <values>', 'angles, grey levels or brightness settings, separated by commas')
    .option('--vertical', 'angles: above and below instead of left and right')
    .option('--minutes <min>', 'white over time: for how long', numberOption(0.5, 240), 30)
    .option('--patches <file>', 'colour: CGATS or CSV whose patches are shown in its order')
    .option('--rgb-max <n>', 'colour: largest RGB value of that file', oneOf(['1', '100', '255'] as const), '255')
    .option('--label <text>', 'what was measured, such as “After calibration”', '')
    .option('--frame-signal', 'strobing: the display’s frame signal is at the rig’s trigger input')
    .option('--settle <s>', 'between showing and reading', numberOption(0.35, 60), 1)
    .option('--repeats <n>', 'strobing: steps in each direction', integerOption(1, 50), 4)
    .option('--resume <id>', 'go on with a sequence that was left', idOption)
  return addRunningOptions(addStimulusOption(addRigOptions(command))).addHelpText(
    'after',
    `
Examples:
  slewlight guide "Panel A" uniformity --rig /dev/ttyACM0 --i-understand-flashing
  slewlight guide "Panel A" angle --by meter --meter tcp://10.0.0.7 --list 0,30,60,-30,-60
  slewlight guide "Panel A" colour --patches list.txt --rgb-max 255
  slewlight guide "Panel A" --resume 12

Each value is stored when it is accepted. Ctrl-C or q stops and keeps what was taken. The simulated sensor moves by itself,
and where nobody can type every one of its readings is accepted.`,
  )
}

async function planFrom(sequence: SequenceId, options: GuideOptions): Promise<GuidedPlan> {
  const { list, patches, refresh, range, settle, vertical, meter, rgbMax, frameSignal, by, ...rest } = options
  const items = list?.split(',').map((item) => item.trim())
  const parsed = guidedPlanSchema.safeParse({
    sequence,
    by: by ?? WAYS[sequence][0],
    meter: meter === undefined ? null : meterAt(meter),
    query: rest.query,
    u: rest.u ?? null,
    source: rest.source,
    setting: rest.setting,
    refreshHz: refresh,
    rangeV: range,
    places: rest.places,
    ...(items === undefined || sequence !== 'angle' ? {} : { angles: items.map(Number) }),
    ...(items === undefined || sequence !== 'ladder' ? {} : { codes: items.map(Number) }),
    ...(items === undefined || sequence !== 'flicker' ? {} : { brightness: items }),
    axis: vertical === true ? 'vertical' : 'horizontal',
    minutes: rest.minutes,
    patches:
      patches === undefined
        ? []
        : readPatchList(decodeText(await readInputFile(patches, MAX_CGATS_BYTES)), Number(rgbMax) as 1 | 100 | 255),
    label: rest.label,
    frameSignal: frameSignal === true,
    settleS: settle,
    repeats: rest.repeats,
  })
  if (parsed.success) return parsed.data
  throw new AppError('invalid-input', `This sequence is not possible: ${problemsOf(parsed.error)}`)
}

export async function runGuide(
  campaign: string,
  sequence: SequenceId | undefined,
  options: GuideOptions,
  host: CliHost,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const target = rigTargetOf(options)
  if (sequence === undefined && options.resume === undefined)
    throw new AppError('invalid-input', 'There is no sequence.', `Name one of ${SEQUENCE_IDS.join(', ')}, or --resume.`)
  if (process.typed == null && target.kind !== 'simulated')
    throw new AppError(
      'invalid-input',
      'Somebody has to move the sensor, and nobody can be asked here: standard input is not a terminal.',
      'Start it from a terminal, or from the application.',
    )
  const plan = sequence === undefined ? null : await planFrom(sequence, options)
  return withLight(host, options, output, false, (opened) =>
    follow(opened, campaign, plan, options.resume, process, output),
  )
}

async function follow(
  opened: LightCore,
  campaign: string,
  plan: GuidedPlan | null,
  resume: number | undefined,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const asking = new AbortController()
  const { core } = opened
  const asked = createAsking(core, process, output, asking.signal)
  const unwatch = core.system.watch((event) => {
    if (event.kind === 'state') asked(event.state.guided)
  })
  try {
    const { id: campaignId } = knownCampaign(await core.campaigns.list(), campaign)
    if (opened.stimulus === 'page') await pageAttached(opened, 'run the same command again', process, output)
    const begin = () =>
      plan === null || resume !== undefined
        ? core.guided.resume({ campaignId, sequenceId: resume ?? 0 })
        : core.guided.start({ campaignId, plan })
    const ended = await followJob(core, begin, 'steps', process, output)
    output.progressEnd()
    const outcome = await core.jobs.outcome({ jobId: ended.id })
    if (outcome.kind !== 'guided') throw new AppError('internal', 'A different job ended.')
    if (ended.state === 'failed' && outcome.failure !== null)
      throw new AppError(outcome.failure.code, outcome.failure.message, outcome.failure.remedy)
    const { sequenceId, taken, total, readingId } = outcome.result
    output.result({ sequence: sequenceId, reading: readingId, state: ended.state, taken, total }, () =>
      [
        `Sequence ${sequenceId}: ${taken} of ${total} taken${readingId === null ? '' : `, reading ${readingId}`}.`,
        ...(ended.problem === '' ? [] : [ended.problem]),
        ...(taken < total ? [`To go on: slewlight guide ${campaignId} --resume ${sequenceId}`] : []),
      ].join('\n'),
    )
    if (ended.state === 'cancelled') return EXIT.paused
    return taken < total ? EXIT.incomplete : EXIT.done
  } finally {
    asking.abort()
    unwatch()
  }
}

const WORDS = {
  next: 'Enter: done',
  accept: 'Enter: keep it',
  again: 'a: take again',
  skip: 's: leave out',
  back: 'b: one back',
} as const
const LETTERS: Readonly<Record<string, 'again' | 'skip' | 'back'>> = { a: 'again', s: 'skip', b: 'back' }

/** Puts each question of a sequence to the person at the terminal, or answers it where nobody can type. */
function createAsking(
  core: Core,
  process: CliProcess,
  output: Output,
  signal: AbortSignal,
): (progress: GuidedProgress | null) => void {
  let open: string | null = null
  const answerTo = (progress: GuidedProgress, line: string): GuidedAnswer | null => {
    const letter = line.trim().toLowerCase()
    const kind =
      letter === '' ? (['accept', 'next'] as const).find((one) => progress.answers.includes(one)) : LETTERS[letter]
    if (kind !== undefined && progress.answers.includes(kind)) return { kind }
    const values = letter.split(/[\s;]+/).map(Number)
    const typed = progress.answers.includes('typed') && values.length === progress.fields.length
    return typed && values.every((value) => Number.isFinite(value)) ? { kind: 'typed', values } : null
  }
  const put = async (progress: GuidedProgress): Promise<void> => {
    output.progressEnd()
    output.note(questionText(progress))
    for (;;) {
      // One line after the other.
      // oxlint-disable-next-line no-await-in-loop
      const line = process.typed == null ? '' : await process.typed(signal)
      if (signal.aborted) return
      const answer = line === null ? null : answerTo(progress, line)
      if (answer !== null) {
        // oxlint-disable-next-line no-await-in-loop
        await core.guided.answer(answer)
        return
      }
      if (line === null || line.trim().toLowerCase() === 'q' || process.typed == null || progress.phase === 'failed') {
        // oxlint-disable-next-line no-await-in-loop
        await core.jobs.cancel({ jobId: progress.jobId })
        return
      }
    }
  }
  return (progress) => {
    if (progress === null || progress.answers.length === 0) {
      open = null
      return
    }
    const question = JSON.stringify([progress.index, progress.phase, progress.problem, progress.values])
    if (question === open) return
    open = question
    // Nobody is there to mend it.
    if (process.typed == null && progress.phase === 'failed') {
      output.note(progress.problem)
      core.jobs.cancel({ jobId: progress.jobId }).catch(() => undefined)
      return
    }
    put(progress).catch((error: unknown) => output.note(toErrorDetail(error).message))
  }
}

function questionText({
  sequence,
  index,
  steps,
  phase,
  instruction,
  detail,
  problem,
  values,
  fields,
  answers,
}: GuidedProgress): string {
  const what =
    phase === 'judging'
      ? values
          .map(
            ({ quantity, value, unit, u }) =>
              `${quantity} ${Number(value.toPrecision(5))} ${unit}${u === null ? '' : ` (u ${u.toPrecision(2)})`}`,
          )
          .join(', ')
      : phase === 'may-read'
        ? `The instrument may read now: ${steps[index]?.place ?? ''}`
        : `${instruction}. ${problem === '' ? detail : problem}`
  const keys = answers.flatMap((kind) =>
    kind === 'typed'
      ? [`${fields.map(({ quantity, unit }) => `${quantity} in ${unit}`).join(' ')}: type it`]
      : [WORDS[kind]],
  )
  return `${SEQUENCES[sequence]} ${index + 1}/${steps.length}. ${what}\n  ${[...keys, 'q: stop'].join(', ')}`
}
