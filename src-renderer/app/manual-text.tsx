import type { ReactNode } from 'react'
import { unbroken } from '../ui/format.ts'

/** What the manual's pages are written in: headings, paragraphs, lists, tables and code of Markdown, nothing else. */
export type Block =
  | { readonly kind: 'heading'; readonly level: number; readonly text: string }
  | { readonly kind: 'paragraph'; readonly text: string }
  | { readonly kind: 'list'; readonly ordered: boolean; readonly items: readonly string[] }
  | { readonly kind: 'table'; readonly head: readonly string[]; readonly rows: readonly (readonly string[])[] }
  | { readonly kind: 'code'; readonly text: string }

const ITEM = /^(?:-|\d+\.) /
const STARTS = /^(?:#|```|\||- |\d+\. )/

/** Splits a page into its blocks; every line that is not blank ends up in one. */
export function blocksOf(page: string): Block[] {
  const lines = page.split('\n')
  const blocks: Block[] = []
  let at = 0
  const take = (belongs: (line: string) => boolean): string[] => {
    const from = at
    while (at < lines.length && belongs(lines[at] as string)) at++
    return lines.slice(from, at)
  }
  while (at < lines.length) {
    const line = lines[at] as string
    const heading = /^(#+) (.*)$/.exec(line)
    if (line.trim() === '') at++
    else if (heading !== null) {
      blocks.push({ kind: 'heading', level: (heading[1] as string).length, text: heading[2] as string })
      at++
    } else if (line.startsWith('```')) {
      at++
      blocks.push({ kind: 'code', text: take((inside) => !inside.startsWith('```')).join('\n') })
      at++
    } else if (line.startsWith('|')) {
      const [head = [], , ...rows] = take((row) => row.startsWith('|')).map(cellsOf)
      blocks.push({ kind: 'table', head, rows })
    } else if (ITEM.test(line)) {
      const items = take((item) => ITEM.test(item)).map((item) => item.replace(ITEM, ''))
      blocks.push({ kind: 'list', ordered: !line.startsWith('-'), items })
    } else {
      blocks.push({ kind: 'paragraph', text: take((more) => more.trim() !== '' && !STARTS.test(more)).join(' ') })
    }
  }
  return blocks
}

const cellsOf = (row: string): string[] =>
  row
    .replace(/^\||\|$/g, '')
    .split(/(?<!\\)\|/)
    .map((cell) => cell.trim().replaceAll('\\|', '|'))

const SPAN = /`([^`]+)`|\*\*([^*]+)\*\*|\*([^*]+)\*|\[([^\]]+)\]\([^)]+\)/g

/** As the screens print text; the pages are typed with the quotes of a keyboard. */
const printed = (text: string): string =>
  unbroken(text.replaceAll(/"([^"]*)"/g, '\u201c$1\u201d').replaceAll("'", '\u2019'))

/** Code, bold and italic of a line; a link stands as its text, since nothing outside the program is opened from here. */
function spansOf(text: string): ReactNode[] {
  const spans: ReactNode[] = []
  let end = 0
  for (const found of text.matchAll(SPAN)) {
    const [whole, code, bold, italic, link] = found
    spans.push(printed(text.slice(end, found.index)))
    const key = found.index
    if (code !== undefined) spans.push(<code key={key}>{code}</code>)
    else if (bold !== undefined) spans.push(<strong key={key}>{printed(bold)}</strong>)
    else spans.push(italic === undefined ? printed(link ?? '') : <em key={key}>{printed(italic)}</em>)
    end = found.index + whole.length
  }
  spans.push(printed(text.slice(end)))
  return spans
}

/** One page of the manual as readable text. */
export function ManualText({ page }: { readonly page: string }) {
  // The pages are fixed at build time, so a block's place identifies it.
  return (
    <article className="manual">
      {blocksOf(page).map((block, i) => (
        // oxlint-disable-next-line react/no-array-index-key
        <Drawn key={i} block={block} />
      ))}
    </article>
  )
}

function Drawn({ block }: { readonly block: Block }) {
  switch (block.kind) {
    case 'heading':
      return block.level === 1 ? <h3>{spansOf(block.text)}</h3> : <h4>{spansOf(block.text)}</h4>
    case 'paragraph':
      return <p>{spansOf(block.text)}</p>
    case 'code':
      return (
        <pre tabIndex={0} role="region" aria-label="Example">
          <code>{block.text}</code>
        </pre>
      )
    case 'list': {
      const items = block.items.map((item) => <li key={item}>{spansOf(item)}</li>)
      return block.ordered ? <ol>{items}</ol> : <ul>{items}</ul>
    }
    case 'table':
      return <Table {...block} />
    default:
      return block satisfies never
  }
}

function Table({ head, rows }: Extract<Block, { readonly kind: 'table' }>) {
  return (
    <table>
      <thead>
        <tr>
          {head.map((cell) => (
            <th key={cell} scope="col">
              {spansOf(cell)}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <tr key={row[0]}>
            {row.map((cell, column) => (
              <td key={head[column]}>{spansOf(cell)}</td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  )
}
