/** Command headers: written once as in the standard (`[SENSe:]SWEep:POINts`), matched in short and long form. */
import type { HeaderNode } from './program-parser.ts'

export interface PatternNode {
  readonly short: string
  readonly long: string
  readonly optional: boolean
}

export function compilePattern(pattern: string): PatternNode[] {
  const nodes: PatternNode[] = []
  let optional = false
  for (const part of pattern.split(/([[\]:])/)) {
    if (part === '[') optional = true
    else if (part === ']') optional = false
    else if (part !== '' && part !== ':')
      nodes.push({ short: part.replaceAll(/[a-z]/g, ''), long: part.toUpperCase(), optional })
  }
  return nodes
}

/** Whether a written header is this pattern: `exact` but for a suffix other than 1, or not at all. */
export function matchHeader(pattern: readonly PatternNode[], nodes: readonly HeaderNode[]): 'yes' | 'suffix' | 'no' {
  if (!matches(pattern, nodes, 0, 0)) return 'no'
  return nodes.every((node) => node.suffix === 1) ? 'yes' : 'suffix'
}

function matches(pattern: readonly PatternNode[], nodes: readonly HeaderNode[], i: number, j: number): boolean {
  const wanted = pattern[i]
  const given = nodes[j]
  if (wanted === undefined) return given === undefined
  if (given && (given.name === wanted.short || given.name === wanted.long) && matches(pattern, nodes, i + 1, j + 1))
    return true
  return wanted.optional && matches(pattern, nodes, i + 1, j)
}
