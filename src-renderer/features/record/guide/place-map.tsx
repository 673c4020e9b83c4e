import type { GuidedProgress } from '#shared/domain/guided.ts'

/** Wide as a common screen; only where on it matters. */
const [WIDTH, HEIGHT] = [160, 90]

/** Where on the screen the steps are, which are taken, and which is meant; nothing for a single place. */
export function PlaceMap({ progress }: { progress: GuidedProgress }) {
  const { steps, index } = progress
  const several = steps.some(({ at }) => at.x !== steps[0]?.at.x || at.y !== steps[0]?.at.y)
  if (!several) return null
  return (
    <svg
      className="guide-screen"
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      role="img"
      aria-label={`Place of the sensor: ${steps[index]?.place ?? ''}`}
    >
      {steps.map(({ place, state, at }, i) => {
        const [cx, cy] = [at.x * WIDTH, at.y * HEIGHT]
        return (
          <g key={place}>
            {state === 'skipped' ? (
              <path className="skipped" d={`M${cx - 3} ${cy - 3}l6 6m0 -6l-6 6`} />
            ) : (
              <circle className={state} cx={cx} cy={cy} r={3} />
            )}
            {i === index ? (
              <>
                <circle className="here" cx={cx} cy={cy} r={8} strokeWidth={2} />
                <path className="here" d={`M${cx - 12} ${cy}h24M${cx} ${cy - 12}v24`} strokeWidth={1} />
              </>
            ) : null}
          </g>
        )
      })}
    </svg>
  )
}
