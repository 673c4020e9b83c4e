/** The colour scale of the matrix: what its ends and its limit are, and whether the person pinned them. */
import { memo, useState } from 'react'
import { Button, Dialog, DialogTrigger, Heading, Popover } from 'react-aria-components'
import { Segmented } from '../../ui/controls.tsx'
import { css } from '../../ui/colour.ts'
import { FieldRow, TextInput } from '../../ui/fields.tsx'
import { displayUnit, shortMeasure } from '../../ui/format.ts'
import { badness, type Extent, pinnedScale, type MeasureScale } from '../../ui/measure-scale.ts'
import { MATRIX_MEASURES, type MatrixMeasure } from '../../ui/measures-shown.ts'
import { parseNumber } from '../../ui/parse-number.ts'
import { sequential } from '../../ui/sequential-colours.ts'
import { readStored, writeStored } from '../../ui/storage.ts'
import { useTheme } from '../../ui/theme.ts'

/** Ends in the measure's own unit; `sweep` follows the values in view. */
export type Pin = 'fixed' | 'sweep' | { readonly low: number; readonly high: number }
export type Pins = Readonly<Partial<Record<MatrixMeasure, Pin>>>

const KEY = 'scale-pins'

function isPin(value: unknown): value is Pin {
  if (value === 'fixed' || value === 'sweep') return true
  if (typeof value !== 'object' || value === null) return false
  const { low, high } = value as Record<string, unknown>
  return Number.isFinite(low) && Number.isFinite(high) && (low as number) < (high as number)
}

export function usePins(): readonly [Pins, (measure: MatrixMeasure, pin: Pin) => void] {
  const [pins, setPins] = useState((): Pins => {
    const stored = readStored(KEY)
    if (typeof stored !== 'object' || stored === null) return {}
    const known = stored as Readonly<Record<string, unknown>>
    return Object.fromEntries(MATRIX_MEASURES.flatMap((id) => (isPin(known[id]) ? [[id, known[id]]] : [])))
  })
  const pin = (measure: MatrixMeasure, to: Pin) => {
    const next = { ...pins, [measure]: to }
    setPins(next)
    writeStored(KEY, next)
  }
  return [pins, pin]
}

/** The scale a pin leads to; `extent` holds the values in view. */
export function scaleUnder(pin: Pin | undefined, scale: MeasureScale, extent: Extent | null): MeasureScale {
  if (pin === undefined || pin === 'fixed') return scale
  if (pin === 'sweep') return extent === null ? scale : pinnedScale(scale, extent.min, extent.max)
  return pinnedScale(scale, pin.low, pin.high)
}

/** What a number of the field's unit (ms, %) is in the measure's own. */
const factorOf = (measure: MatrixMeasure): number =>
  measure === 'in_window' ? 0.01 : displayUnit(measure) === 'ms' ? 1e-3 : 1

export interface ScaleChoiceProps {
  readonly measure: MatrixMeasure
  readonly scale: MeasureScale
  readonly pin: Pin
  readonly onPin: (pin: Pin) => void
}

export const ScaleChoice = memo(function ScaleChoice({ measure, scale, pin, onPin }: ScaleChoiceProps) {
  const kind = typeof pin === 'string' ? pin : 'own'
  return (
    <DialogTrigger>
      <Button className="scale-button">
        <span className="visually-hidden">{scaleWords(measure, scale, kind)}</span>
        <span aria-hidden="true" className="scale-face">
          <ScaleBar measure={measure} scale={scale} />
          {kind === 'fixed' ? null : <span className="scale-pinned">pinned</span>}
        </span>
      </Button>
      <Popover className="popover scale-popover" placement="bottom end">
        <Dialog className="scale-dialog">
          <Heading slot="title">Colour scale</Heading>
          <p className="hint">
            Fixed ends depend on the measure and the refresh rate only, so the colours of two sweeps can be compared.
          </p>
          <Segmented
            label="Ends of the colour scale"
            value={kind}
            onChange={(next) => {
              if (next === 'own') onPin({ low: Math.min(scale.good, scale.bad), high: Math.max(scale.good, scale.bad) })
              else onPin(next)
            }}
            choices={[
              { id: 'fixed', label: 'Fixed' },
              { id: 'sweep', label: 'Values in view' },
              { id: 'own', label: 'Own' },
            ]}
          />
          {typeof pin === 'string' ? null : <OwnEnds key={measure} measure={measure} pin={pin} onPin={onPin} />}
        </Dialog>
      </Popover>
    </DialogTrigger>
  )
})

function OwnEnds(props: {
  measure: MatrixMeasure
  pin: { readonly low: number; readonly high: number }
  onPin: (pin: Pin) => void
}) {
  const factor = factorOf(props.measure)
  const unit = displayUnit(props.measure)
  const shown = (value: number) => String(Number((value / factor).toPrecision(6)))
  const [typed, setTyped] = useState({ low: shown(props.pin.low), high: shown(props.pin.high) })
  const change = (next: { low: string; high: string }) => {
    setTyped(next)
    const [low, high] = [parseNumber(next.low), parseNumber(next.high)]
    if (low !== null && high !== null && low < high) props.onPin({ low: low * factor, high: high * factor })
  }
  const [low, high] = [parseNumber(typed.low), parseNumber(typed.high)]
  const error = low === null || high === null ? 'Two numbers are needed.' : low < high ? undefined : 'Must be more.'
  const field = (key: 'low' | 'high', label: string) => (
    <TextInput
      label={label}
      {...(unit === '' ? {} : { unit })}
      inputMode="decimal"
      value={typed[key]}
      onChange={(value) => change({ ...typed, [key]: value })}
      error={key === 'high' ? error : undefined}
    />
  )
  return (
    <FieldRow>
      {field('low', 'From')}
      {field('high', 'To')}
    </FieldRow>
  )
}

/** The colours between the numbers they begin and end with, good on the left, the limit marked on them. */
function ScaleBar({ measure, scale }: { measure: MatrixMeasure; scale: MeasureScale }) {
  const theme = useTheme()
  const stops = Array.from({ length: 17 }, (_, i) => css(sequential(i / 16, theme)))
  const unit = displayUnit(measure)
  const { good, bad, limit } = scale
  const isOnScale = limit !== null && limit > Math.min(good, bad) && limit < Math.max(good, bad)
  return (
    <span className="legend" aria-hidden="true">
      <span>{shortMeasure(measure, good)}</span>
      <span className="legend-bar" style={{ background: `linear-gradient(to right, ${stops.join(', ')})` }}>
        {isOnScale ? (
          <span className="legend-limit" style={{ insetInlineStart: `${100 * badness(limit, scale)}%` }} />
        ) : null}
      </span>
      <span>{`${shortMeasure(measure, bad)} ${unit}`.trim()}</span>
      {isOnScale ? <span className="legend-limit-text">│ limit {shortMeasure(measure, limit)}</span> : null}
    </span>
  )
}

function scaleWords(measure: MatrixMeasure, scale: MeasureScale, kind: string): string {
  const say = (value: number) => `${shortMeasure(measure, value)} ${displayUnit(measure)}`.trim()
  const limit = scale.limit === null ? '' : `, limit ${say(scale.limit)}, ${scale.limitName}`
  const pinned = kind === 'fixed' ? '' : ', pinned'
  return `Colour scale, good ${say(scale.good)} to bad ${say(scale.bad)}${limit}${pinned}`
}
