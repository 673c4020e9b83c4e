import { I18nProvider, Input, NumberField } from 'react-aria-components'
import type { Result } from '#shared/domain/result.ts'
import { Action } from '../../ui/controls.tsx'
import { MARK_GROUPS, markTimes } from './marks.ts'
import type { Marks } from './use-marks.ts'

export interface MarksFormProps {
  readonly marks: Marks
  readonly result: Result | null
  /** Instant of the plot's origin and length of the record, s from the first sample. */
  readonly originS: number
  readonly origin: string
  readonly recordS: number
  readonly sampleRateHz: number
}

/** The marks as numbers, for hands that do not drag; the same instants as the handles on the plot. */
export function MarksForm({ marks, result, originS, origin, recordS, sampleRateHz }: MarksFormProps) {
  const landmarks = marks.preview?.landmarks ?? result?.landmarks ?? null
  const times = markTimes(marks.draft, landmarks, recordS)
  const decimals = Math.min(6, Math.max(2, Math.ceil(Math.log10(sampleRateHz / 1000)) + 1))
  return (
    <fieldset className="marks-form">
      <legend>Marks, ms from {origin}; drag or type</legend>
      {/* Numbers are written one way everywhere, whatever the language of the machine. */}
      <I18nProvider locale="en">
        {MARK_GROUPS.map((group) => (
          <div key={group.key} className="marks-row" data-moved={marks.draft[group.key] !== undefined}>
            <span className="marks-label">
              {group.label}{' '}
              <span className="minor" aria-hidden="true">
                {group.marks.map(({ short }) => short).join(' ')}
              </span>
            </span>
            {group.marks.map(({ id, label }) => {
              const at = times[id]
              return at === null ? (
                <span key={id} className="minor">
                  none
                </span>
              ) : (
                <NumberField
                  key={id}
                  aria-label={`${label}, ms from ${origin}`}
                  className="marks-number"
                  value={(at - originS) * 1000}
                  minValue={-originS * 1000}
                  maxValue={(recordS - originS) * 1000}
                  formatOptions={{ maximumFractionDigits: decimals, useGrouping: false }}
                  onChange={(ms) => {
                    if (Number.isFinite(ms)) marks.move(id, originS + ms / 1000)
                  }}
                >
                  <Input className="input" />
                </NumberField>
              )
            })}
            <Action
              size="small"
              tone="quiet"
              isDisabled={marks.draft[group.key] === undefined}
              aria-label={`Reset to automatic: ${group.label}`}
              onPress={() => marks.leave(group.key)}
            >
              Automatic
            </Action>
          </div>
        ))}
      </I18nProvider>
      {marks.problem === '' ? null : <p className="problem">{marks.problem}</p>}
    </fieldset>
  )
}
