/** Layers made of the page's own elements. */
import type { Layers } from './commands.ts'

const grey = (level: number): string => `rgb(${level} ${level} ${level})`

export function createLayers(elements: readonly HTMLElement[]): Layers {
  const layers = elements.map((layer) => ({ layer, patch: layer.querySelector<HTMLElement>('.patch') }))
  let seen = 0
  const paintOne = (index: number, level: number): void => {
    const patch = layers[index]?.patch
    if (patch) patch.style.backgroundColor = grey(level)
  }
  const showOnly = (index: number): void =>
    layers.forEach(({ layer }, i) => {
      layer.style.opacity = i === index ? '1' : '0'
    })
  return {
    arrange(sizePct, surround, level) {
      for (const { layer, patch } of layers) {
        layer.style.backgroundColor = grey(surround)
        if (!patch) continue
        patch.style.width = `${sizePct}vh`
        patch.style.height = `${sizePct}vh`
      }
      paintOne(0, level)
      paintOne(1, level)
      showOnly(seen)
    },
    paint: (level) => paintOne(1 - seen, level),
    swap() {
      seen = 1 - seen
      showOnly(seen)
    },
    hide: () => showOnly(-1),
  }
}
