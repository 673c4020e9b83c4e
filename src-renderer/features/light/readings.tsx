import { Button, Dialog, DialogTrigger, Popover } from 'react-aria-components'
import type { LightReading } from '#shared/measure/light.ts'
import { PERIODIC_IDS, PERIODIC_MEASURES, type PeriodicId } from '#shared/measure/periodic.ts'
import { significant, UNDEFINED_TEXT, uncertaintyDigits, withDecimalsOf } from '../../ui/format.ts'

/** What leads, by short names: each with its definition at hand. */
const LEADING = {
  percent_flicker_pct: 'Percent flicker',
  flicker_index: 'Flicker index',
  svm: 'SVM',
  pst_lm: 'PstLM',
  fundamental_hz: 'Fundamental',
} as const satisfies Partial<Record<PeriodicId, string>>
const LEADING_IDS = Object.keys(LEADING) as (keyof typeof LEADING)[]

export function LeadingReadings({ reading }: { reading: LightReading }) {
  return (
    <dl className="light-figures" aria-label="Readings">
      {LEADING_IDS.map((id) => {
        return (
          <div key={id} className="light-figure">
            <dt>
              {LEADING[id]} <Definition id={id} />
            </dt>
            <dd>
              <span className="light-value">{valueText(reading, id)}</span>
              <span className="light-note">{noteText(reading, id)}</span>
            </dd>
          </div>
        )
      })}
    </dl>
  )
}

function Definition({ id }: { id: PeriodicId }) {
  const { label, meaning } = PERIODIC_MEASURES[id]
  return (
    <DialogTrigger>
      <Button className="definition-button" aria-label={`Definition of ${label}`}>
        ?
      </Button>
      <Popover className="popover definition" placement="bottom start">
        <Dialog aria-label={`Definition of ${label}`}>
          <strong>{label}</strong>
          <p>{meaning}</p>
        </Dialog>
      </Popover>
    </DialogTrigger>
  )
}

/** Every reading with its definition, or why it has no value. */
export function AllReadings({ reading }: { reading: LightReading }) {
  return (
    <table className="data-table light-table" aria-label="All readings">
      <thead>
        <tr>
          <th scope="col">Reading</th>
          <th scope="col" className="align-end">
            Value
          </th>
          <th
            scope="col"
            className="align-end"
            title="Standard uncertainty from noise; a wrong dark level is not in it"
          >
            u
          </th>
          <th scope="col">Definition, or why there is no value</th>
        </tr>
      </thead>
      <tbody>
        {PERIODIC_IDS.map((id) => (
          <tr key={id}>
            <th scope="row">{PERIODIC_MEASURES[id].label}</th>
            <td className="align-end digits">{valueText(reading, id)}</td>
            <td className="align-end digits minor">{uncertaintyText(reading, id)}</td>
            <td className="minor">
              {reading.values[id] === null ? reading.reasons[id] : PERIODIC_MEASURES[id].meaning}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  )
}

/** With the decimals of its uncertainty, where that is known and can be shown. */
function valueText({ values, uncertainties }: LightReading, id: PeriodicId): string {
  const [value, u] = [values[id], uncertainties[id]]
  if (value === null) return UNDEFINED_TEXT
  return withUnit(withDecimalsOf(u, value) ?? significant(value, id === 'fundamental_hz' ? 5 : 3), id)
}

const withUnit = (digits: string, id: PeriodicId): string => {
  const { unit } = PERIODIC_MEASURES[id]
  return `${digits}${unit === '1' ? '' : ` ${unit}`}`
}

function uncertaintyText({ values, uncertainties }: LightReading, id: PeriodicId): string {
  const u = uncertainties[id]
  return values[id] === null || u === undefined ? '' : withUnit(uncertaintyDigits(u), id)
}

/** Uncertainty of a value; where there is none, the bound it lies under, or why it is missing. */
function noteText(reading: LightReading, id: PeriodicId): string {
  const u = uncertaintyText(reading, id)
  if (reading.values[id] !== null) return u === '' ? '' : `u (k = 1) ${u}`
  const limit = reading.limits[id]
  return limit === undefined ? (reading.reasons[id] ?? '') : `under ${withUnit(significant(limit, 2), id)}`
}
