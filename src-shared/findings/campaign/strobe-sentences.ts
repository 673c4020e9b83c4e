/** What strobing by place says in words. */
import { hertz, listed } from '#shared/domain/quantity-text.ts'
import type { MeasuredPoint } from './figures.ts'
import type { Sentence } from './sentences.ts'
import { type CrosstalkByPlace, crosstalkText, valuesOf } from './strobe-places.ts'

const DIRECTION = { rise: 'brightening', fall: 'darkening' } as const

/** One sentence where the worst place is shown by the uncertainties; none where they do not carry it. */
export function strobeSentences(all: readonly CrosstalkByPlace[], points: readonly MeasuredPoint[]): Sentence[] {
  return all.flatMap(({ setting, refreshHz, places, worst }) => {
    if (worst?.shown !== true) return []
    const at = places.find(({ place }) => place === worst.place)?.[worst.step]
    if (at == null) return []
    const others = places.filter(({ place }) => place !== worst.place)
    const told = others.map((other) => {
      const [largest] = valuesOf([other]).sort((a, b) => Math.abs(b.estimate.value) - Math.abs(a.estimate.value))
      return largest === undefined
        ? ''
        : `${crosstalkText(largest.estimate)} of a ${DIRECTION[largest.step]} step at the ${other.place}`
    })
    return [
      {
        text: `${setting} at ${hertz(refreshHz)} Hz: strobe crosstalk is largest in size at the ${worst.place}, ${crosstalkText(at)} of a ${DIRECTION[worst.step]} step, against ${listed(told.filter((text) => text !== ''))}.`,
        sweepIds: points
          .filter((point) => point.setting === setting && point.refreshHz === refreshHz)
          .map(({ sweepId }) => sweepId),
        figures: [],
      },
    ]
  })
}
