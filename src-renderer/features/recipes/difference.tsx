import type { MeasureId } from '#shared/domain/measures.ts'
import { differenceText, differenceWithin, isSeen } from './difference-text.ts'

/** A difference of two recipes and, where it can be seen, its U95. */
export function Difference(props: {
  readonly measure: MeasureId
  readonly difference: number | null
  readonly u95: number | null
}) {
  const { measure, difference, u95 } = props
  if (difference === null || u95 === null || !isSeen(measure, difference)) return differenceText(measure, difference)
  const [text, interval] = differenceWithin(measure, difference, u95)
  return (
    <>
      {text} <span className="spread">{interval}</span>
    </>
  )
}
