import { useEffect, useRef, useState } from 'react'
import type { LightReading } from '#shared/measure/light.ts'
import {
  lowRiskModulation,
  noEffectModulation,
  SVM_LIMIT_HZ,
  svmThreshold,
  temporalSensitivity,
  VISIBLE_LIMIT_HZ,
} from '#shared/measure/flicker-weights.ts'
import { significant } from '../../ui/format.ts'

const LEFT = 52
const RIGHT = 12
const TOP = 8
const BOTTOM = 40
const FROM_HZ = 10
const TO_HZ = 4000
const LEAST_PCT = 0.01
const MOST_PCT = 200

interface Line {
  readonly id: 'a' | 'b' | 'c' | 'd'
  readonly name: string
  readonly fromHz: number
  readonly toHz: number
  readonly pct: (frequencyHz: number) => number | null
}

/** Published lines, as functions of frequency; drawn as lines only, no area of them is called good or bad. */
const LINES: readonly Line[] = [
  { id: 'a', name: 'low-risk line, IEEE 1789', fromHz: FROM_HZ, toHz: 1250, pct: lowRiskModulation },
  { id: 'b', name: 'no-observable-effect line, IEEE 1789', fromHz: FROM_HZ, toHz: 3000, pct: noEffectModulation },
  {
    id: 'c',
    name: 'stroboscopic threshold (SVM 1)',
    fromHz: 80,
    toHz: SVM_LIMIT_HZ,
    pct: (frequencyHz) => 100 * svmThreshold(frequencyHz),
  },
  {
    id: 'd',
    name: 'flicker threshold (1 JND)',
    fromHz: FROM_HZ,
    toHz: VISIBLE_LIMIT_HZ,
    pct: (frequencyHz) => 100 / temporalSensitivity(frequencyHz),
  },
]
const TICKS_HZ = [10, 30, 100, 300, 1000, 3000]
const TICKS_PCT = [0.01, 0.1, 1, 10, 100]

/** Each component of the light by frequency and modulation, against published lines. Context, no verdict. */
export function ModulationChart({ reading }: { reading: LightReading }) {
  const box = useRef<HTMLDivElement>(null)
  const [{ width, height }, setSize] = useState({ width: 0, height: 0 })
  useEffect(() => {
    const element = box.current
    if (element === null) return undefined
    const observer = new ResizeObserver(() => setSize({ width: element.clientWidth, height: element.clientHeight }))
    observer.observe(element)
    return () => observer.disconnect()
  }, [])
  const x = (hz: number) => LEFT + (Math.log(hz / FROM_HZ) / Math.log(TO_HZ / FROM_HZ)) * (width - LEFT - RIGHT)
  const y = (pct: number) => TOP + (Math.log(MOST_PCT / pct) / Math.log(MOST_PCT / LEAST_PCT)) * (height - TOP - BOTTOM)
  const shown = reading.components.filter(
    ({ frequencyHz, relative }) => frequencyHz >= FROM_HZ && frequencyHz <= TO_HZ && 100 * relative >= LEAST_PCT,
  )
  const { fundamental_hz: fundamental, percent_flicker_pct: percent } = reading.values
  const marked = fundamental !== null && percent !== null && fundamental >= FROM_HZ && percent >= LEAST_PCT
  return (
    <>
      <div ref={box} className="light-svg">
        {width < 100 || height < 80 ? null : (
          <svg width={width} height={height} role="img" aria-label={describe(reading)}>
            {TICKS_HZ.map((hz) => (
              <g key={hz}>
                <line className="svg-grid" x1={x(hz)} x2={x(hz)} y1={TOP} y2={height - BOTTOM} />
                <text x={x(hz)} y={height - BOTTOM + 16} textAnchor="middle">
                  {hz}
                </text>
              </g>
            ))}
            {TICKS_PCT.map((pct) => (
              <g key={pct}>
                <line className="svg-grid" x1={LEFT} x2={width - RIGHT} y1={y(pct)} y2={y(pct)} />
                <text x={LEFT - 6} y={y(pct) + 4} textAnchor="end">
                  {pct}
                </text>
              </g>
            ))}
            <text x={width - RIGHT} y={height - 6} textAnchor="end">
              Frequency, Hz
            </text>
            <text x={4} y={height - 6}>
              Modulation, %
            </text>
            {LINES.map((line) => (
              <path key={line.id} className={`svg-line svg-line-${line.id}`} d={pathOf(line, x, y)} />
            ))}
            {shown.map(({ frequencyHz, relative }) => (
              <circle
                key={frequencyHz}
                className="svg-component"
                cx={x(frequencyHz)}
                cy={y(Math.min(MOST_PCT, 100 * relative))}
                r={3.5}
              />
            ))}
            {marked ? <circle className="svg-fundamental" cx={x(fundamental)} cy={y(percent)} r={7} /> : null}
          </svg>
        )}
      </div>
      <ul className="light-legend" aria-label="Key">
        <li>
          <i className="legend-ring" /> percent flicker
        </li>
        <li>
          <i className="legend-dot" /> component
        </li>
        {LINES.map(({ id, name }) => (
          <li key={id}>
            <svg className="legend-line" viewBox="0 0 30 8" aria-hidden="true">
              <path className={`svg-line svg-line-${id}`} d="M0 4H30" />
            </svg>{' '}
            {name}
          </li>
        ))}
      </ul>
    </>
  )
}

const STEPS = 80

function pathOf({ fromHz, toHz, pct }: Line, x: (hz: number) => number, y: (pct: number) => number): string {
  const points: string[] = []
  for (let i = 0; i <= STEPS; i += 1) {
    const hz = fromHz * (toHz / fromHz) ** (i / STEPS)
    const value = pct(hz)
    if (value !== null && value >= LEAST_PCT && value <= MOST_PCT)
      points.push(`${points.length === 0 ? 'M' : 'L'}${x(hz).toFixed(1)} ${y(value).toFixed(1)}`)
  }
  return points.join('')
}

function describe(reading: LightReading): string {
  const strongest = reading.components.reduce<LightReading['components'][number] | null>(
    (best, one) => (best === null || one.relative > best.relative ? one : best),
    null,
  )
  if (strongest === null) return 'Modulation over frequency: no component stands out'
  return `Modulation over frequency: strongest component ${significant(100 * strongest.relative, 3)} % at ${significant(strongest.frequencyHz, 4)} Hz`
}
