/** Figures as PNG, two pixels for one, by the optional resvg and one font that comes with it: the same bytes everywhere. */
import { createRequire } from 'node:module'
import { dirname, join } from 'node:path'
import { figureSvg } from '#shared/figures/file.ts'
import { LIGHT } from '#shared/figures/style.ts'

const PIXELS = 2
export const FIGURE_FONT = 'DejaVu Sans'

type Resvg = Pick<typeof import('@resvg/resvg-js'), 'renderAsync'>

interface Loaded {
  readonly resvg: Resvg
  readonly fontFiles: readonly string[]
}

let loading: Promise<Loaded | null> | null = null

/** Null where the optional packages are not installed. */
export async function figurePng(svg: string): Promise<Uint8Array | null> {
  loading ??= load()
  const loaded = await loading
  if (loaded === null) return null
  const image = await loaded.resvg.renderAsync(figureSvg(svg, FIGURE_FONT), {
    // Fonts of the machine would make other pictures on another one.
    font: { loadSystemFonts: false, fontFiles: [...loaded.fontFiles], defaultFontFamily: FIGURE_FONT },
    fitTo: { mode: 'zoom', value: PIXELS },
    background: LIGHT.paper,
    logLevel: 'off',
  })
  return image.asPng()
}

async function load(): Promise<Loaded | null> {
  const fontFiles = figureFonts()
  if (fontFiles.length === 0) return null
  try {
    // A CommonJS module: bundled code sees its exports on `default`, sources run directly see them by name.
    const resvg: Resvg & { readonly default?: Resvg } = await import('@resvg/resvg-js')
    return { resvg: resvg.default ?? resvg, fontFiles }
  } catch {
    return null
  }
}

/** Files of the font of figures outside browsers; none where the optional package is not installed. */
export function figureFonts(): string[] {
  try {
    const home = dirname(createRequire(import.meta.url).resolve('dejavu-fonts-ttf/package.json'))
    // What is packed into an archive is no file to a native module.
    const folder = join(home.replace('app.asar', 'app.asar.unpacked'), 'ttf')
    return ['DejaVuSans.ttf', 'DejaVuSans-Bold.ttf'].map((name) => join(folder, name))
  } catch {
    return []
  }
}
