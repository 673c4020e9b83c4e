/** `record`: what is known of a display beyond its transitions, and adding to it. */
import { writeFile } from 'node:fs/promises'
import { basename, resolve } from 'node:path'
import { InvalidArgumentError, type Command } from 'commander'
import type { Campaign } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import { meterAt } from '#shared/domain/meter.ts'
import { newReadingSchema } from '#shared/domain/reading.ts'
import {
  meteredColumn,
  RECORD_KIND_IDS,
  recordKind,
  rowsOf,
  seriesOf,
  type RecordKindId,
} from '#shared/domain/record-kinds.ts'
import { TARGET_IDS, TARGETS, type TargetId } from '#shared/colour/targets.ts'
import type { WhiteChoice } from '#shared/colour/patches.ts'
import { decodeText } from '#shared/import/decode.ts'
import { MAX_CGATS_BYTES } from '#shared/import/cgats.ts'
import { ABSOLUTE, cgatsOf, readRecordTable } from '#shared/import/record-rows.ts'
import { spectraOf, spectraReadings } from '#shared/import/spectra-readings.ts'
import { hertz, minute, plural } from '#shared/domain/quantity-text.ts'
import { figureText } from '#shared/record/quantity.ts'
import { DEFAULT_CHOICE, displayRecord, isOfRecord, newestLadder, quantitiesOf } from '#shared/record/record.ts'
import type { Store } from '#main/core/ports.ts'
import { knownCampaign } from '../campaigns.ts'
import type { CliCore } from '../host.ts'
import { readInputFile } from '../input-file.ts'
import { numberOption, oneOf, problemsOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'

const RECORD_ACTIONS = ['show', 'readings', 'add', 'read', 'export', 'kinds'] as const
export type RecordAction = (typeof RECORD_ACTIONS)[number]

export interface RecordOptions {
  readonly target: TargetId
  readonly white: WhiteChoice
  readonly rgbMax: 1 | 100 | 255
  readonly whiteLuminance?: number
  readonly label?: string
  readonly u?: number
  readonly place: string
  readonly source: string
  readonly note: string
  readonly out?: string
  readonly meter?: string
  readonly query?: string
  readonly with: readonly number[]
}

export function describeRecord(command: Command): Command {
  return command
    .description('what is known of a display beyond its transitions: latency, light, colour, power')
    .argument('<action>', RECORD_ACTIONS.join(', '), oneOf(RECORD_ACTIONS))
    .argument('[campaign]', 'campaign by name or number')
    .argument('[kind]', 'add: kind of reading, see `record kinds`')
    .argument('[file]', 'add: its rows as CSV, or as CGATS')
    .option(
      '--target <target>',
      `show: colours are judged against ${TARGET_IDS.join(', ')}`,
      oneOf(TARGET_IDS),
      DEFAULT_CHOICE.target,
    )
    .option(
      '--white <white>',
      'show: differences count against the white of the target, or each against its own (display)',
      oneOf(['target', 'display'] as const),
      DEFAULT_CHOICE.white,
    )
    .option('--rgb-max <n>', 'add: largest RGB value of the file: 1, 100 or 255', rgbMaxOption, ABSOLUTE.rgbMax)
    .option(
      '--white-luminance <cd/m²>',
      'add: luminance of white where XYZ are relative (Y = 100 at white)',
      numberOption(1e-6, 1e6),
    )
    .option('--label <text>', 'add: what was measured, such as “After calibration”; the kind’s name when left out')
    .option('--u <number>', 'add: standard uncertainty of each value, in the kind’s unit', numberOption(0, 1e9))
    .option('--place <text>', 'add: where on the display, or the picture shown', '')
    .option('--source <text>', 'add: instrument, person or document', '')
    .option('--note <text>', 'add: a remark', '')
    .option('--out <file>', 'export: where the newest colour patches go, as CGATS')
    .option('--meter <where>', 'read: tcp://HOST:PORT, or a serial port with its rate such as /dev/ttyUSB0,9600')
    .option('--query <query>', 'read: what the meter is asked; MEAS:POW? for power, else MEAS?')
    .option(
      '--with <numbers>',
      'read: the other columns of the row in their order, such as 250,0.2009',
      numbersOption,
      [],
    )
    .addHelpText(
      'after',
      `
Examples:
  slewlight record kinds
  slewlight record add "Panel A" colour-patches patches.txt --label "Before calibration" --source "Colorimeter 3"
  slewlight record add "Panel A" uniformity nine-places.csv --u 1.5
  slewlight record read "Panel A" power --meter tcp://10.0.0.7 --with 250,0.2009 --place white
  slewlight record show "Panel A" --target display-p3
  slewlight record export "Panel A" --out patches.txt`,
    )
}

function numbersOption(text: string): readonly number[] {
  const numbers = text.split(',').map(Number)
  if (numbers.some((value) => !Number.isFinite(value)))
    throw new InvalidArgumentError('Numbers separated by commas are needed.')
  return numbers
}

/** A row of one kind with what a meter says in its place; stored as one reading. */
export async function readToRecord(
  name: string,
  kind: string | undefined,
  options: RecordOptions,
  { core }: Pick<CliCore, 'core'>,
  output: Output,
): Promise<void> {
  const id = RECORD_KIND_IDS.find((known) => known === kind)
  if (id === undefined || options.meter === undefined)
    throw new AppError('invalid-input', 'A kind and --meter are needed.', 'See: slewlight record --help')
  const campaign = knownCampaign(await core.campaigns.list(), name)
  const { label, unit, columns } = recordKind(id)
  const place = meteredColumn(id)
  if (place === null || options.with.length !== columns.length - 1)
    throw new AppError(
      'invalid-input',
      place === null ? `${label} is not read by a meter.` : `${label}: --with needs ${columns.length - 1} numbers.`,
      `Its columns: ${columns.map((column) => column.id).join(', ')}.`,
    )
  const query = options.query ?? (id === 'power' ? 'MEAS:POW?' : 'MEAS?')
  const { value, identity } = await core.readings.meter({ meter: meterAt(options.meter), query })
  const reading = newReadingSchema.parse({
    campaignId: campaign.id,
    kind: id,
    quantity: options.label ?? label,
    unit,
    series: seriesOf(id, [[...options.with.slice(0, place), value, ...options.with.slice(place)]]),
    u: options.u ?? null,
    source: [options.source, identity]
      .filter((part) => part !== '')
      .join('; ')
      .slice(0, 200),
    place: options.place,
    note: options.note,
    at: new Date().toISOString(),
  })
  const { id: readingId } = await core.readings.add(reading)
  output.result({ reading: readingId, value, unit, identity }, () => `${label}: ${value} ${unit}, by ${identity}.`)
}

const rgbMaxOption = (text: string): 1 | 100 | 255 => Number(oneOf(['1', '100', '255'] as const)(text)) as 1 | 100 | 255

export async function runRecord(
  action: Exclude<RecordAction, 'kinds' | 'read'>,
  name: string,
  kind: string | undefined,
  file: string | undefined,
  options: RecordOptions,
  store: Store,
  output: Output,
): Promise<void> {
  const campaign = knownCampaign(await store.campaigns(), name)
  if (action === 'show') return showRecord(campaign, options, store, output)
  if (action === 'readings') return showReadings(campaign, store, output)
  if (action === 'export') return exportPatches(campaign, options, store, output)
  const id = RECORD_KIND_IDS.find((known) => known === kind)
  if (id === undefined || file === undefined)
    throw new AppError(
      'invalid-input',
      kind === undefined || id !== undefined ? 'A kind and a file are needed.' : `There is no kind “${kind}”.`,
      'See: slewlight record kinds',
    )
  await addToRecord(campaign, id, file, options, store, output)
}

export function showKinds(output: Output): void {
  const kinds = RECORD_KIND_IDS.map((id) => ({ id, ...recordKind(id) }))
  output.result(kinds, () =>
    kinds
      .map(({ id, label, columns, how }) =>
        [
          `${id}: ${label}`,
          `  columns: ${columns.map((column) => `${column.id}${column.unit === '1' ? '' : ` (${column.unit})`}`).join(', ')}`,
          `  ${how}`,
        ].join('\n'),
      )
      .join('\n'),
  )
}

async function showReadings(campaign: Campaign, store: Store, output: Output): Promise<void> {
  const readings = (await store.readings({ campaignId: campaign.id, includeHidden: true })).filter(isOfRecord)
  output.result({ campaign_id: campaign.id, readings }, () =>
    textTable(
      ['reading', 'kind', 'what', 'place', 'setting', 'rows', 'taken', 'source'],
      readings.map(({ id, kind, quantity, place, at, source, hidden, setting, refreshHz, ...reading }) => [
        id,
        hidden ? `${kind} (left out)` : kind,
        quantity,
        place,
        setting === null ? '' : `${setting}${refreshHz === null ? '' : ` at ${hertz(refreshHz)} Hz`}`,
        rowsOf({ kind, ...reading }).length,
        minute(at),
        source,
      ]),
    ),
  )
}

async function showRecord(campaign: Campaign, options: RecordOptions, store: Store, output: Output): Promise<void> {
  const [readings, sweeps] = await Promise.all([
    store.readings({ campaignId: campaign.id }),
    store.sweeps({ campaignId: campaign.id }),
  ])
  const { target, white } = options
  const record = displayRecord(readings.filter(isOfRecord), newestLadder(sweeps), { target, white })
  const quantities = quantitiesOf(record)
  output.result(
    {
      campaign_id: campaign.id,
      target,
      white,
      quantities: quantities.map(({ id, label, state, figures, missing, readingIds }) => ({
        id,
        label,
        state,
        missing,
        reading_ids: readingIds,
        figures: figures.map(({ u95, bound, ...figure }) => ({ ...figure, u95, ...(bound ? { bound } : {}) })),
      })),
    },
    () =>
      [
        `${campaign.display === '' ? campaign.name : campaign.display}: ${quantities.filter(({ state }) => state === 'measured').length} of ${quantities.length} quantities complete. Colours against ${TARGETS[target].label}, white of the ${white}.`,
        ...quantities.map(({ label, state, figures, missing }) =>
          [
            '',
            `${label} (${state})`,
            ...(figures.length === 0
              ? []
              : [
                  textTable(
                    ['', 'value', ''],
                    figures.map((figure) => [figure.label, figureText(figure), figure.note ?? '']),
                  ),
                ]),
            ...missing.map((text) => `Still needed: ${text}`),
          ].join('\n'),
        ),
      ].join('\n'),
  )
}

async function exportPatches(
  campaign: Campaign,
  { out, label }: RecordOptions,
  store: Store,
  output: Output,
): Promise<void> {
  if (out === undefined) throw new AppError('invalid-input', 'No output file was given.', 'Give --out.')
  const readings = await store.readings({ campaignId: campaign.id })
  const reading = readings.findLast(
    ({ kind, quantity }) => kind === 'colour-patches' && (label === undefined || quantity === label),
  )
  if (reading === undefined)
    throw new AppError('not-found', `Campaign ${campaign.id} has no such colour patches.`, 'See: slewlight record show')
  const text = cgatsOf(reading, spectraOf(reading, readings))
  await writeFile(out, text)
  output.result({ path: resolve(out), reading_id: reading.id }, () => `${out}: “${reading.quantity}”, CGATS.`)
}

async function addToRecord(
  campaign: Campaign,
  kind: RecordKindId,
  file: string,
  options: RecordOptions,
  store: Store,
  output: Output,
): Promise<void> {
  const text = decodeText(await readInputFile(file, MAX_CGATS_BYTES))
  const table = readRecordTable(kind, text, {
    rgbMax: options.rgbMax,
    whiteLuminance: options.whiteLuminance ?? null,
  })
  const { label, unit } = recordKind(kind)
  const origin = [options.source, table.origin, basename(file)].filter((part) => part !== '').join('; ')
  const parsed = newReadingSchema.safeParse({
    campaignId: campaign.id,
    kind,
    quantity: options.label ?? label,
    unit,
    series: seriesOf(kind, table.rows),
    u: options.u ?? null,
    source: origin.slice(0, 200),
    place: options.place,
    note: options.note,
    at: new Date().toISOString(),
  })
  if (!parsed.success) throw new AppError('invalid-input', problemsOf(parsed.error, { quantity: '--label' }))
  const spectra = spectraReadings(parsed.data, table.spectra)
  const [reading] = await store.addReadings({ readings: [parsed.data, ...spectra] })
  if (reading === undefined) throw new AppError('internal', 'Nothing was stored.')
  const kept = { rows: table.rows.length, spectra: table.spectra.length, warnings: table.warnings }
  output.result({ reading_id: reading.id, ...kept }, () =>
    [
      `Reading ${reading.id}: ${plural(table.rows.length, 'row')} of ${label.toLowerCase()} in campaign ${campaign.id} “${campaign.name}”.`,
      ...table.warnings.map((warning) => `Note: ${warning}`),
    ].join('\n'),
  )
}
