import { useState } from 'react'
import { FileTrigger } from 'react-aria-components'
import { toErrorDetail } from '#shared/domain/errors.ts'
import {
  guidedPlanSchema,
  SEQUENCES,
  WAYS,
  type GuidedPlan,
  type ReadBy,
  type Rgb,
  type SequenceId,
} from '#shared/domain/guided.ts'
import { meterAt } from '#shared/domain/meter.ts'
import { decodeText } from '#shared/import/decode.ts'
import { readPatchList } from '#shared/import/patch-list.ts'
import { useCommand } from '../../../client/use-command.ts'
import { FlashWarning } from '../../../parts/flash-warning.tsx'
import { useFlashWarning } from '../../../parts/use-flash-warning.ts'
import { Action, ModalDialog, Segmented } from '../../../ui/controls.tsx'
import { FieldRow, SelectInput, SwitchInput, TextInput } from '../../../ui/fields.tsx'
import { parseNumber } from '../../../ui/parse-number.ts'

const WAY_NAMES: Readonly<Record<ReadBy, string>> = {
  photodiode: 'Calibrated photodiode',
  meter: 'Meter over SCPI',
  typed: 'Typed in',
  file: 'Kept by the instrument',
}
const ABOUT: Readonly<Record<SequenceId, string>> = {
  uniformity: 'The stimulus shows a ring where the sensor goes, then white on the whole screen. Dark room, warmed up.',
  strobing:
    'Pulse width, phase in the frame, duty and crosstalk at top, centre and bottom. The sensor is moved when asked.',
  flicker: 'White at several brightness settings of the display; you set each, the photodiode reads flicker and light.',
  angle: 'White at the centre, the meter moved to each angle. State in which direction.',
  ladder: 'Grey levels at the centre, read one after the other: white, black, contrast and gamma follow.',
  'white-over-time': 'White from switching the display on, read at even intervals.',
  colour: 'Patches in the order of a list. The screen says when the instrument may read.',
}
const PLACES = [
  { id: '9', label: '9 places' },
  { id: '25', label: '25 places' },
] as const
const AXES = [
  { id: 'horizontal', label: 'Left and right' },
  { id: 'vertical', label: 'Above and below' },
] as const
const RGB_SCALES = [
  { id: '255', label: '0 to 255' },
  { id: '100', label: '0 to 100' },
  { id: '1', label: '0 to 1' },
] as const

interface Draft {
  by: ReadBy
  meter: string
  query: string
  u: string
  source: string
  setting: string
  refresh: string
  places: '9' | '25'
  axis: 'horizontal' | 'vertical'
  list: string
  minutes: string
  label: string
  frameSignal: boolean
  settle: string
  repeats: string
}

const listOf: Partial<Record<SequenceId, { readonly label: string; readonly first: string }>> = {
  angle: { label: 'Angles in degrees; negative to the left or down', first: '0 15 30 45 60 -15 -30 -45 -60' },
  ladder: { label: 'Grey levels', first: '0 15 30 45 60 75 90 105 120 135 150 165 180 195 210 225 240 255' },
  flicker: { label: 'Brightness settings, separated by commas', first: '100 %, 50 %, 0 %' },
}

const numbersIn = (text: string): (number | null)[] =>
  text
    .trim()
    .split(/[\s,;]+/)
    .map(parseNumber)

function planOf(sequence: SequenceId, draft: Draft, patches: readonly Rgb[]): GuidedPlan | null {
  let meter = null
  try {
    meter = draft.by === 'meter' ? meterAt(draft.meter) : null
  } catch {
    return null
  }
  const parsed = guidedPlanSchema.safeParse({
    sequence,
    by: draft.by,
    meter,
    query: draft.query,
    u: draft.u.trim() === '' ? null : parseNumber(draft.u),
    source: draft.source,
    setting: draft.setting,
    refreshHz: parseNumber(draft.refresh),
    places: Number(draft.places),
    axis: draft.axis,
    ...(sequence === 'angle' ? { angles: numbersIn(draft.list) } : {}),
    ...(sequence === 'ladder' ? { codes: numbersIn(draft.list) } : {}),
    ...(sequence === 'flicker' ? { brightness: draft.list.split(',') } : {}),
    minutes: parseNumber(draft.minutes),
    label: draft.label,
    frameSignal: draft.frameSignal,
    settleS: parseNumber(draft.settle),
    patches,
    repeats: parseNumber(draft.repeats),
  })
  return parsed.success ? parsed.data : null
}

/** What a sequence needs to know before its first step. */
export function GuideForm(props: {
  readonly campaignId: number
  readonly sequence: SequenceId
  readonly onClose: () => void
}) {
  const { campaignId, sequence, onClose } = props
  const ways = WAYS[sequence]
  const list = listOf[sequence]
  const [draft, setDraft] = useState<Draft>({
    by: ways[0] ?? 'typed',
    meter: '',
    query: 'MEAS?',
    u: '',
    source: '',
    setting: 'Off',
    refresh: sequence === 'strobing' ? '120' : '60',
    places: '9',
    axis: 'horizontal',
    list: list?.first ?? '',
    minutes: '30',
    label: '',
    frameSignal: false,
    settle: '1',
    repeats: '4',
  })
  const [patches, setPatches] = useState<readonly Rgb[]>([])
  const [rgbMax, setRgbMax] = useState<'1' | '100' | '255'>('255')
  const [file, setFile] = useState('')
  const set = (change: Partial<Draft>): void => setDraft({ ...draft, ...change })
  const flash = useFlashWarning()
  const start = useCommand('The sequence could not begin', (client, plan: GuidedPlan) =>
    client.guided.start({ campaignId, plan }),
  )
  const plan = planOf(sequence, draft, patches)
  const begin = (ready: GuidedPlan): void =>
    flash.afterWarning(null, () => {
      void start.run(ready).then((answer) => {
        if (answer !== null) onClose()
        return undefined
      })
    })
  const load = async (chosen: File | undefined): Promise<void> => {
    if (chosen === undefined) return
    try {
      const read = readPatchList(
        decodeText(new Uint8Array(await chosen.arrayBuffer())),
        Number(rgbMax) as 1 | 100 | 255,
      )
      setPatches(read)
      setFile(`${chosen.name}: ${read.length} patches.`)
    } catch (error) {
      const { message, remedy } = toErrorDetail(error)
      setPatches([])
      setFile(`${chosen.name}: ${message} ${remedy}`)
    }
  }
  const strobing = sequence === 'strobing'
  return (
    <>
      <ModalDialog
        title={SEQUENCES[sequence]}
        isOpen
        onClose={onClose}
        actions={
          <>
            <Action onPress={onClose}>Cancel</Action>
            <Action
              tone="main"
              isPending={start.busy}
              isDisabled={plan === null}
              onPress={() => {
                if (plan !== null) begin(plan)
              }}
            >
              Begin
            </Action>
          </>
        }
      >
        <p className="hint">{ABOUT[sequence]} Rig and stimulus are those chosen on the Bench.</p>
        {ways.length < 2 ? null : (
          <SelectInput
            label="Read by"
            value={draft.by}
            choices={ways.map((id) => ({ id, label: WAY_NAMES[id] }))}
            onChange={(by) => set({ by })}
          />
        )}
        {draft.by === 'meter' ? (
          <FieldRow>
            <TextInput
              label="Meter"
              value={draft.meter}
              onChange={(meter) => set({ meter })}
              placeholder="tcp://10.0.0.7:5025 or /dev/ttyUSB0,9600"
              maxLength={300}
            />
            <TextInput label="Query" value={draft.query} onChange={(query) => set({ query })} maxLength={100} />
          </FieldRow>
        ) : null}
        {draft.by === 'photodiode' ? null : (
          <FieldRow>
            <TextInput
              label="Standard uncertainty of each value"
              unit="cd/m²"
              inputMode="decimal"
              value={draft.u}
              onChange={(u) => set({ u })}
            />
            <TextInput label="Instrument" value={draft.source} onChange={(source) => set({ source })} maxLength={120} />
          </FieldRow>
        )}
        {sequence === 'uniformity' ? (
          <Segmented label="How many" value={draft.places} choices={PLACES} onChange={(places) => set({ places })} />
        ) : null}
        {sequence === 'angle' ? (
          <Segmented label="Direction" value={draft.axis} choices={AXES} onChange={(axis) => set({ axis })} />
        ) : null}
        {list === undefined ? null : (
          <TextInput label={list.label} value={draft.list} onChange={(text) => set({ list: text })} maxLength={400} />
        )}
        {sequence === 'white-over-time' ? (
          <TextInput
            label="For how long"
            unit="min"
            inputMode="decimal"
            value={draft.minutes}
            onChange={(minutes) => set({ minutes })}
          />
        ) : null}
        {sequence === 'colour' ? (
          <>
            <TextInput
              label="State of the display"
              value={draft.label}
              onChange={(label) => set({ label })}
              placeholder="After calibration"
              maxLength={100}
            />
            <SelectInput label="RGB values of the list" value={rgbMax} choices={RGB_SCALES} onChange={setRgbMax} />
            <div className="record-file">
              <FileTrigger onSelect={(files) => void load(files?.[0])}>
                <Action>Choose a list of patches…</Action>
              </FileTrigger>
              <span className="hint" role="status">
                {file === '' ? 'CGATS or CSV. Without one: grey scale, primaries and their mixtures.' : file}
              </span>
            </div>
          </>
        ) : null}
        <FieldRow>
          {strobing ? (
            <TextInput
              label="Setting"
              value={draft.setting}
              onChange={(setting) => set({ setting })}
              maxLength={60}
              hint="As the display’s menu calls it."
            />
          ) : null}
          <TextInput
            label="Refresh"
            unit="Hz"
            inputMode="decimal"
            value={draft.refresh}
            onChange={(refresh) => set({ refresh })}
          />
          {strobing ? (
            <TextInput
              label="Steps each way"
              inputMode="numeric"
              value={draft.repeats}
              onChange={(repeats) => set({ repeats })}
              hint="Their mean is the crosstalk."
            />
          ) : (
            <TextInput
              label="Settling before each reading"
              unit="s"
              inputMode="decimal"
              value={draft.settle}
              onChange={(settle) => set({ settle })}
            />
          )}
        </FieldRow>
        {strobing ? (
          <SwitchInput
            label="Frame signal at the rig’s trigger input"
            isSelected={draft.frameSignal}
            onChange={(frameSignal) => set({ frameSignal })}
            hint="The phase then counts from it. Without one, only a simulated display tells when its frames begin."
          />
        ) : null}
      </ModalDialog>
      <FlashWarning flash={flash} estimatedS={null} />
    </>
  )
}
