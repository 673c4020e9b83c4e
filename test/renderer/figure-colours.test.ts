import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { colourDeclarations, DARK, LIGHT } from '#shared/figures/style.ts'
import { FIGURE_CSS } from '#shared/figures/svg.ts'

const sheet = readFileSync(new URL('../../src-renderer/ui/figures.css', import.meta.url), 'utf8')
const packed = (css: string): string => css.replaceAll(/[\s;]/g, '')

describe('figures on the screens', () => {
  it.each([
    ['dark', DARK],
    ['light', LIGHT],
  ] as const)('have every colour of a report in the %s theme', (theme, colours) => {
    const rule = new RegExp(`\\[data-theme='${theme}'\\] \\{([^}]*)\\}`).exec(sheet)?.[1] ?? ''
    expect(packed(rule)).toBe(packed(colourDeclarations(colours)))
  })

  it('follow the rules of the figures of a report', () => {
    expect(packed(sheet)).toContain(packed(FIGURE_CSS.split('.fig text')[0] ?? ''))
    expect(packed(sheet)).toContain(packed('.fig text, .fig tspan { white-space: pre; }'))
  })
})
