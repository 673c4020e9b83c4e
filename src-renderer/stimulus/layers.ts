/** Layers made of the page's own elements. */
import type { Layers } from './commands.ts'

const grey = (level: number): string => `rgb(${level} ${level} ${level})`

export function createLayers(elements: readonly HTMLElement[]): Layers {
  const layers = elements.map((layer) => ({ layer, patches: [] as HTMLElement[] }))
  let seen = 0
  const paintOne = (index: number, level: number): void => {
    for (const patch of layers[index]?.patches ?? []) patch.style.backgroundColor = grey(level)
  }
  const showOnly = (index: number): void =>
    layers.forEach(({ layer }, i) => {
      layer.style.opacity = i === index ? '1' : '0'
    })
  return {
    arrange(sizePct, surround, level, rows) {
      for (const entry of layers) {
        entry.layer.style.backgroundColor = grey(surround)
        entry.patches = rows.map((row) => {
          const patch = document.createElement('div')
          patch.className = 'patch'
          patch.style.width = `${sizePct}vh`
          patch.style.height = `${sizePct}vh`
          // Kept whole on the screen.
          patch.style.top = `${Math.min(100 - sizePct, Math.max(0, 100 * row - sizePct / 2))}vh`
          return patch
        })
        entry.layer.replaceChildren(...entry.patches)
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
