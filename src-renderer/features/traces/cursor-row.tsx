import { decimalsFor } from '#shared/domain/quantity-text.ts'
import { fixed, milliseconds, significant, UNDEFINED_TEXT } from '../../ui/format.ts'
import type { CursorDifference, CursorValue } from './cursor-reading.ts'

function voltsText(volts: number): string {
  return Math.abs(volts) < 0.1 ? `${significant(volts * 1000, 3)} mV` : `${fixed(volts, 4)} V`
}

/** A value to the decimals of its spread, the same unit for both; `withSpread`: the spread stands beside it. */
function voltsWithin(volts: number, halfV: number, withSpread: boolean): string {
  if (!(halfV > 0)) return voltsText(volts)
  const [scale, unit] = Math.abs(volts) < 0.1 ? [1000, 'mV'] : [1, 'V']
  const decimals = decimalsFor(halfV * scale)
  const spread = withSpread ? ` ± ${fixed(halfV * scale, decimals)}` : ''
  return `${fixed(volts * scale, decimals)}${spread} ${unit}`
}

export function cursorWords({ ms, volts, halfV }: CursorValue): string {
  return `${milliseconds(ms / 1000)} ms, ${volts === null ? 'outside the record' : voltsWithin(volts, halfV, true)}`
}

/** Readings of the two cursors and of the difference B − A. */
export function CursorRow({ a, b, difference }: { a: CursorValue; b: CursorValue; difference: CursorDifference }) {
  const { deltaMs, rateHz, deltaV, deltaPct, deltaCode, codeReason } = difference
  return (
    <dl className="cursor-row" aria-label="Cursors">
      <Reading name="A" tone="a" text={cursorWords(a)} />
      <Reading name="B" tone="b" text={cursorWords(b)} />
      <Reading name="Δt" text={`${milliseconds(deltaMs / 1000)} ms`} />
      <Reading name="1/Δt" text={rateHz === null ? UNDEFINED_TEXT : `${significant(rateHz, 4)} Hz`} />
      <Reading
        name="ΔL"
        text={[
          deltaPct === null ? UNDEFINED_TEXT : `${fixed(deltaPct, 1)} % of the step`,
          deltaCode === null ? `${UNDEFINED_TEXT} codes (${codeReason})` : `${fixed(deltaCode, 1)} codes`,
          deltaV === null ? UNDEFINED_TEXT : voltsWithin(deltaV, Math.hypot(a.halfV, b.halfV), false),
        ].join(', ')}
      />
    </dl>
  )
}

function Reading({ name, text, tone }: { name: string; text: string; tone?: 'a' | 'b' }) {
  return (
    <div>
      <dt className={tone === undefined ? '' : `cursor-${tone}`}>{name}</dt>
      <dd>{text}</dd>
    </div>
  )
}
