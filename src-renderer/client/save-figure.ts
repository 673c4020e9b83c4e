/** Figures as files: as drawn (SVG), as a picture (PNG, two pixels for one), and the numbers drawn (CSV). */
import { figureCsv, figureSvg } from '#shared/figures/file.ts'
import type { FigureData } from '#shared/figures/point-data.ts'
import { LIGHT } from '#shared/figures/style.ts'
import { saveBlob, saveText } from './download.ts'

const PIXELS = 2
const onPaper = (element: Element): string => figureSvg(element.outerHTML)

export function saveFigureSvg(name: string, element: Element): void {
  saveText({ name: `${name}.svg`, text: onPaper(element) }, 'image/svg+xml')
}

/** Rejects where the browser cannot draw it. */
export async function saveFigurePng(name: string, element: Element): Promise<void> {
  const image = new Image()
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(onPaper(element))}`
  await image.decode()
  const canvas = document.createElement('canvas')
  canvas.width = PIXELS * Number(element.getAttribute('width'))
  canvas.height = PIXELS * Number(element.getAttribute('height'))
  const context = canvas.getContext('2d')
  if (context === null) throw new Error('There is nothing to draw on.')
  context.fillStyle = LIGHT.paper
  context.fillRect(0, 0, canvas.width, canvas.height)
  context.drawImage(image, 0, 0, canvas.width, canvas.height)
  const blob = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, 'image/png'))
  if (blob === null) throw new Error('The picture could not be made.')
  saveBlob(`${name}.png`, blob)
}

export function saveFigureData(name: string, data: FigureData): void {
  saveText({ name: `${name}.csv`, text: figureCsv(data) })
}
