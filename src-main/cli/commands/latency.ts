/** `latency`: input events and the light they cause, as a run of the record. */
import { plural } from '#shared/domain/quantity-text.ts'
import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import { latencyPlanSchema, MAX_EVENTS, REACTIONS, type LatencyPlan, type Reaction } from '#shared/domain/latency.ts'
import { rowsOf } from '#shared/domain/record-kinds.ts'
import { figureText } from '#shared/record/quantity.ts'
import { latencyPart, waitText } from '#shared/record/latency-part.ts'
import { campaignNamed } from '../campaigns.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliCore, CliHost, CliProcess } from '../host.ts'
import { followJob } from '../job.ts'
import { addRunningOptions, integerOption, numberOption, oneOf, problemsOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { addRigOptions, addStimulusOption, type RigOptions, type StimulusOption } from '../plan-options.ts'
import { pageAttached, withLight } from '../open-rig.ts'

export interface LatencyOptions extends RigOptions {
  readonly archive: string
  readonly display: string
  readonly refresh: number
  readonly events: number
  readonly from: number
  readonly to: number
  readonly reaction: Reaction
  readonly row: number
  readonly reference?: boolean
  readonly interleave?: boolean
  readonly press: 'rig' | 'person'
  readonly event: LatencyPlan['event']
  readonly patch: number
  readonly surround: number
  readonly rate: number
  readonly range: number
  readonly after: number
  readonly note: string
  readonly stimulus?: StimulusOption
  readonly speed: number
  readonly iUnderstandFlashing?: boolean
}

export function describeLatency(command: Command): Command {
  const plan = latencyPlanSchema.parse({ refreshHz: 60 })
  command
    .description('measure input latency: from input events to light, and the display’s own share by a reference run')
    .argument('<campaign>', 'campaign by name or number; a new name creates one')
    .option('--display <text>', 'display under test, for a new campaign', '')
    .option('--refresh <hz>', 'refresh rate of the display', numberOption(10, 1000), plan.refreshHz)
    .option(
      '--events <n>',
      'events with clear light; 100 or more say something',
      integerOption(2, MAX_EVENTS),
      plan.events,
    )
    .option('--from <code>', 'grey level before the event', integerOption(0, 255), plan.from)
    .option('--to <code>', 'grey level after it', integerOption(0, 255), plan.to)
    .option(
      '--reaction <patches>',
      'one patch in the middle, or three at top, centre, bottom',
      oneOf(Object.keys(REACTIONS) as Reaction[]),
      plan.reaction,
    )
    .option('--row <share>', 'height of the sensor on the screen, 0 top to 1 bottom', numberOption(0, 1), plan.row)
    .option('--reference', 'a run on a reference display or a light at the host’s output')
    .option('--interleave', 'display, reference, display in one go: even drift of the host cancels, and is shown')
    .option(
      '--press <who>',
      'rig: its trigger output acts on the input device; person: a hand does',
      oneOf(['rig', 'person'] as const),
      plan.press,
    )
    .option(
      '--event <what>',
      'what shows the event’s edge: channel-2, trigger, or auto: the second channel where the rig has one',
      oneOf(['auto', 'trigger', 'channel-2'] as const),
      plan.event,
    )
    .option(
      '--patch <pct>',
      'edge of a patch in percent of the screen height',
      numberOption(1, 100),
      plan.patch.sizePct,
    )
    .option('--surround <code>', 'level around the patches', integerOption(0, 255), plan.patch.surround)
    .option('--rate <hz>', 'samples per second', numberOption(1000, 1_000_000), plan.sampleRateHz)
    .option('--range <v>', 'full scale of the digitizer input', numberOption(0.001, 100), plan.rangeV)
    .option('--after <s>', 'recorded after the event', numberOption(0.02, 5), plan.afterS)
    .option('--note <text>', 'what is measured, such as the presentation mode', '')
    .option(
      '--seed <n>',
      'seed of the moments of events and of the simulated rig',
      integerOption(0, 0xffffffff),
      plan.seed,
    )
  return addRunningOptions(addStimulusOption(addRigOptions(command))).addHelpText(
    'after',
    `
Examples:
  slewlight latency "Panel A" --refresh 144 --events 400
  slewlight latency "Panel A" --refresh 144 --events 400 --reference --note "light at the host's output"
  slewlight latency "Panel A" --refresh 144 --events 400 --interleave
  slewlight latency "Panel A" --rig /dev/ttyACM0 --press person --refresh 144 --i-understand-flashing

The event has to reach the rig's external trigger input, which starts the record. A rig with a second channel (it lists
TRACe:CATalog? and names CH2) shows the event's edge there. Ctrl-C ends the run and keeps the
events there are. What they say: slewlight record show "Panel A"`,
  )
}

export async function runLatency(
  campaign: string,
  options: LatencyOptions,
  host: CliHost,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const plan = planOf(options)
  return withLight(host, options, output, true, async (opened) => {
    const { id } = await campaignNamed(opened.core, campaign, options.display)
    if (opened.stimulus === 'page') await pageAttached(opened, 'run the same command again', process, output)
    if (plan.press === 'person') output.note(`Press a key or button, ${plan.events} times, at no even pace.`)
    return follow(opened, id, plan, process, output)
  })
}

function planOf(options: LatencyOptions): LatencyPlan {
  const { events, from, to, reaction, row, press, event, seed, note, patch, surround } = options
  const parsed = latencyPlanSchema.safeParse({
    events,
    from,
    to,
    reaction,
    row,
    press,
    event,
    seed,
    note,
    refreshHz: options.refresh,
    sampleRateHz: options.rate,
    rangeV: options.range,
    afterS: options.after,
    patch: { sizePct: patch, surround },
    reference: options.reference === true,
    interleave: options.interleave === true,
  })
  if (parsed.success) return parsed.data
  throw new AppError(
    'invalid-input',
    `This run is not possible: ${problemsOf(parsed.error)}`,
    'See `slewlight latency --help`.',
  )
}

async function follow(
  { core, store }: CliCore,
  campaignId: number,
  plan: LatencyPlan,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const ended = await followJob(core, () => core.latency.start({ campaignId, plan }), 'events', process, output)
  output.progressEnd()
  const outcome = await core.jobs.outcome({ jobId: ended.id })
  if (outcome.kind !== 'latency') throw new AppError('internal', 'A different job ended.')
  const { readingId, runId, taken, unclear } = outcome.result
  if (ended.state === 'failed' && outcome.failure !== null)
    throw new AppError(outcome.failure.code, outcome.failure.message, outcome.failure.remedy)
  const readings = await store.readings({ campaignId })
  const reading = readings.find(({ id }) => id === readingId)
  // What this run says by itself, and what it says together with the reference run that is there.
  const alone = reading === undefined ? null : latencyPart([{ ...reading, kind: 'input-latency-run' }])
  const { quantity } = latencyPart(readings)
  const distribution = alone?.display ?? null
  output.result(
    {
      run: runId,
      reading: readingId,
      state: ended.state,
      events: taken,
      unclear,
      delays_ms: alone?.delaysMs ?? [],
      distribution,
      figures: quantity.figures,
      missing: quantity.missing,
    },
    () =>
      [
        `${plural(taken, 'event')}${unclear > 0 ? `, ${unclear} more without clear light` : ''}; run ${runId ?? '–'}, reading ${readingId ?? '–'} (${plural(reading === undefined ? 0 : rowsOf(reading).length, 'row')}).`,
        ...(distribution === null ? [] : [waitText(distribution)]),
        textTable(
          ['figure', 'value', 'note'],
          quantity.figures.map((figure) => [figure.label, figureText(figure), figure.note ?? '']),
        ),
        ...quantity.missing.map((what) => `Still needed: ${what}`),
      ].join('\n'),
  )
  if (ended.state === 'cancelled') return EXIT.paused
  return taken < ended.total ? EXIT.incomplete : EXIT.done
}
