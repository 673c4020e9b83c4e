/**
 * The headers an instrument says it has (SYSTem:HELP:HEADers?): a definite block, one header a line, optionally with
 * `/qonly/` (query only) or `/nquery/` (no query). Nodes are written in mixed case (`SENSe`: short form SENS, long form
 * SENSE), with optional ones in brackets.
 */
interface Node {
  readonly short: string
  readonly long: string
  readonly optional: boolean
}

/** Text of the block to headers, in the instrument's own spelling with `?` for query-only ones; blanks left out. */
export function parseHeaderList(text: string): string[] {
  return text
    .split(/\r?\n/)
    .map((line) => line.trim())
    .filter((line) => line !== '')
    .map((line) => {
      const [header = ''] = line.split(/[\s/]/, 1)
      return /\/qonly\//i.test(line) && !header.endsWith('?') ? `${header}?` : header
    })
    .filter((header) => header !== '' && header !== '?')
}

/**
 * Whether a list names a header, e.g. `[SENSe:]VOLTage[:DC]:RANGe[:UPPer]` or `FETCh?`. Short and long forms, optional
 * nodes on either side and numeric suffixes match. A set header satisfies a query too: instruments often list one line
 * for both.
 */
export function hasHeader(list: readonly string[], wanted: string): boolean {
  const query = wanted.endsWith('?')
  const nodes = nodesOf(wanted)
  return list.some((entry) => (query || !entry.endsWith('?')) && matches(nodesOf(entry), nodes))
}

function nodesOf(header: string): Node[] {
  const plain = header.replace(/\?$/, '').replace(/<n>|#$/g, '')
  const nodes: Node[] = []
  let depth = 0
  for (const part of plain.split(/([[\]:])/)) {
    if (part === '[') depth += 1
    else if (part === ']') depth -= 1
    else if (part !== '' && part !== ':') {
      const name = part.replace(/\d+$/, '')
      nodes.push({
        short: /[a-z]/.test(name) ? name.replace(/[a-z]+/g, '') : name,
        long: name.toUpperCase(),
        optional: depth > 0,
      })
    }
  }
  return nodes
}

function matches(listed: readonly Node[], wanted: readonly Node[], i = 0, j = 0): boolean {
  const a = listed[i]
  const b = wanted[j]
  if (a === undefined && b === undefined) return true
  if (a !== undefined && b !== undefined && sameNode(a, b) && matches(listed, wanted, i + 1, j + 1)) return true
  if (a?.optional === true && matches(listed, wanted, i + 1, j)) return true
  return b?.optional === true && matches(listed, wanted, i, j + 1)
}

/** A name in capitals only may be a short or a long form; with both forms known on both sides the long ones decide. */
function sameNode(a: Node, b: Node): boolean {
  if (a.long === b.long) return true
  return (a.short === a.long && a.short === b.short) || (b.short === b.long && b.short === a.short)
}
