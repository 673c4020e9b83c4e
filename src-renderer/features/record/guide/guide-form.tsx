import { useState } from 'react'
import { FileTrigger } from 'react-aria-components'
import { toErrorDetail } from '#shared/domain/errors.ts'
import { SEQUENCES, WAYS, type GuidedPlan, type ReadBy, type Rgb, type SequenceId } from '#shared/domain/guided.ts'
import { readPatchList } from '#shared/import/patch-list.ts'
import { useCommand } from '../../../client/use-command.ts'
import { FlashWarning } from '../../../parts/flash-warning.tsx'
import { useFlashWarning } from '../../../parts/use-flash-warning.ts'
import { Action } from '../../../ui/controls.tsx'
import { FieldRow, SelectInput, SwitchInput, TextInput } from '../../../ui/fields.tsx'
import { RecordDialog } from '../record-dialog.tsx'
import { RGB_SCALES, type RgbScale } from '../rgb-scales.ts'
import { SegmentedField } from '../segmented-field.tsx'
import { textOfFile } from '../text-of-file.ts'
import { type GuideDraft, LISTS, readGuideDraft } from './guide-draft.ts'

const WAY_NAMES: Readonly<Record<ReadBy, string>> = {
  photodiode: 'Calibrated photodiode',
  meter: 'Meter over SCPI',
  typed: 'Typed in',
  file: 'The instrument’s own file',
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

/** What a sequence needs to know before its first step. */
export function GuideForm(props: {
  readonly campaignId: number
  readonly sequence: SequenceId
  readonly onClose: () => void
}) {
  const { campaignId, sequence, onClose } = props
  const ways = WAYS[sequence]
  const list = LISTS[sequence]
  const [draft, setDraft] = useState<GuideDraft>({
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
  const [rgbMax, setRgbMax] = useState<RgbScale>('255')
  const [file, setFile] = useState('')
  const set = (change: Partial<GuideDraft>): void => setDraft({ ...draft, ...change })
  const flash = useFlashWarning()
  const start = useCommand('The sequence could not begin', (client, plan: GuidedPlan) =>
    client.guided.start({ campaignId, plan }),
  )
  const { plan, problems } = readGuideDraft(sequence, draft, patches)
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
      const read = readPatchList(await textOfFile(chosen), Number(rgbMax) as 1 | 100 | 255)
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
      <RecordDialog
        title={SEQUENCES[sequence]}
        action="Begin"
        possible={plan !== null}
        busy={start.busy}
        onAction={() => {
          if (plan !== null) begin(plan)
        }}
        onClose={onClose}
      >
        <p className="hint">{ABOUT[sequence]} Rig and stimulus are those chosen on the Bench.</p>
        {ways.length < 2 ? null : (
          <SelectInput
            label="Values come from"
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
              error={problems.meter}
              onChange={(meter) => set({ meter })}
              placeholder="tcp://10.0.0.7:5025 or /dev/ttyUSB0,9600"
              maxLength={300}
            />
            <TextInput
              label="Query sent (SCPI)"
              value={draft.query}
              onChange={(query) => set({ query })}
              maxLength={100}
            />
          </FieldRow>
        ) : null}
        {draft.by === 'photodiode' ? null : (
          <FieldRow>
            <TextInput
              label="Standard uncertainty of each value"
              unit="cd/m²"
              inputMode="decimal"
              value={draft.u}
              error={problems.u}
              onChange={(u) => set({ u })}
            />
            <TextInput label="Instrument" value={draft.source} onChange={(source) => set({ source })} maxLength={120} />
          </FieldRow>
        )}
        {sequence === 'uniformity' ? (
          <SegmentedField label="Places" value={draft.places} choices={PLACES} onChange={(places) => set({ places })} />
        ) : null}
        {sequence === 'angle' ? (
          <SegmentedField label="Direction" value={draft.axis} choices={AXES} onChange={(axis) => set({ axis })} />
        ) : null}
        {list === undefined ? null : (
          <TextInput
            label={list.label}
            value={draft.list}
            error={problems.angles ?? problems.codes ?? problems.brightness}
            onChange={(text) => set({ list: text })}
            maxLength={400}
          />
        )}
        {sequence === 'white-over-time' ? (
          <TextInput
            label="Duration"
            unit="min"
            inputMode="decimal"
            value={draft.minutes}
            error={problems.minutes}
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
              error={problems.setting}
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
            error={problems.refreshHz}
            onChange={(refresh) => set({ refresh })}
          />
          {strobing ? (
            <TextInput
              label="Steps each way"
              inputMode="numeric"
              value={draft.repeats}
              error={problems.repeats}
              onChange={(repeats) => set({ repeats })}
              hint="Their mean is the crosstalk."
            />
          ) : (
            <TextInput
              label="Settling before each reading"
              unit="s"
              inputMode="decimal"
              value={draft.settle}
              error={problems.settleS}
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
      </RecordDialog>
      <FlashWarning flash={flash} estimatedS={null} />
    </>
  )
}
