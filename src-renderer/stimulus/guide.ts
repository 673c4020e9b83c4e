/** Still pictures of guided sequences: one patch anywhere, or a ring and a cross where the sensor goes. */
import type { GuidedPicture } from '#shared/domain/guided.ts'

export interface Guide {
  show(picture: GuidedPicture): void
  hide(): void
}

/** Ring of this radius, percent of the screen's height; seen from where the sensor is held. */
const RING_VH = 6

export function createGuide(root: HTMLElement): Guide {
  const patch = document.createElement('div')
  patch.className = 'guide-patch'
  const mark = document.createElement('div')
  mark.className = 'guide-mark'
  mark.style.width = `${2 * RING_VH}vh`
  mark.style.height = `${2 * RING_VH}vh`
  root.replaceChildren(patch, mark)
  return {
    show({ x, y, rgb, sizePct, surround, mark: isMark }) {
      root.style.backgroundColor = isMark ? 'rgb(0 0 0)' : `rgb(${surround} ${surround} ${surround})`
      for (const one of [patch, mark]) {
        one.style.left = `${100 * x}%`
        one.style.top = `${100 * y}%`
      }
      const whole = sizePct >= 100
      if (whole) {
        patch.style.left = '50%'
        patch.style.top = '50%'
      }
      patch.style.width = whole ? '100vw' : `${sizePct}vh`
      patch.style.height = whole ? '100vh' : `${sizePct}vh`
      patch.style.backgroundColor = `rgb(${rgb.join(' ')})`
      patch.hidden = isMark
      mark.hidden = !isMark
      root.hidden = false
    },
    hide() {
      root.hidden = true
    },
  }
}
