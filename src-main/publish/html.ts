import { createHash } from 'node:crypto'
import { colourDeclarations, DARK, LIGHT } from '#shared/figures/style.ts'
import { FIGURE_CSS } from '#shared/figures/svg.ts'
import { SHORT_TABLE, type ReportBlock, type ReportDocument, type ReportTable } from '#shared/report/document.ts'

const STYLE = `
:root { color-scheme: light dark; ${colourDeclarations(LIGHT)} }
@media (prefers-color-scheme: dark) { :root { ${colourDeclarations(DARK)} } }
body { margin: 0; background: var(--fig-paper); color: var(--fig-ink); font: 16px/1.55 system-ui, sans-serif; }
main { max-width: 46rem; margin: 0 auto; padding: 2.5rem 1.25rem 4rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0; text-wrap: balance; }
h2 { font-size: 1.3rem; margin: 2.75rem 0 .75rem; padding-top: .75rem; border-top: 1px solid var(--fig-faint); }
p, ul { margin: .6rem 0; } li { margin: .3rem 0; }
.subtitle { margin: .4rem 0 0; }
.warning { border: 2px solid var(--fig-limit); border-radius: 4px; padding: .4rem .75rem; margin: 1rem 0 0; font-weight: 600; }
.answer { font-size: 1.2rem; line-height: 1.45; margin: .8rem 0; }
nav ul { columns: 2; margin-top: 1rem; padding-left: 1.1rem; } nav li { break-inside: avoid; margin: 0 0 .4rem; } a { color: inherit; }
figure { margin: 1.4rem 0; break-inside: avoid; overflow-x: auto; }
figcaption, caption { font-size: .875rem; margin: .4rem 0; text-align: left; }
caption { font-size: 1rem; font-weight: 600; }
.wide { width: max-content; min-width: 100%; max-width: min(calc(50vw + 22rem), 62rem); overflow-x: auto; margin: 1.2rem 0; }
@media (max-width: 48rem) { .wide { width: auto; max-width: 100%; } }
table { border-collapse: collapse; font-size: .875rem; font-variant-numeric: tabular-nums; }
th, td { padding: .25rem .75rem .25rem 0; text-align: left; vertical-align: top; border-bottom: 1px solid var(--fig-faint); }
.right { text-align: right; }
${FIGURE_CSS}
@media print {
  :root { color-scheme: light; ${colourDeclarations(LIGHT)} }
  main { max-width: none; padding: 0; } body { font-size: 10.5pt; } nav { display: none; }
  h2 { break-after: avoid; } tr, .answer { break-inside: avoid; } .wide, figure { overflow: visible; }
  .wide { width: auto; min-width: 0; max-width: none; } .short { break-inside: avoid; } table { font-size: .75rem; } th, td { padding-right: .4rem; }
}
@page { margin: 18mm 16mm; }
`

/**
 * A report as one page that works offline: no script, no request, styles allowed by their hash alone. Follows the
 * reader's choice of light or dark and prints light.
 */
export function reportHtml(document: ReportDocument): string {
  const hash = createHash('sha256').update(STYLE).digest('base64')
  const policy = `default-src 'none'; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'`
  const contents = document.sections.map(({ id, heading }) => `<li><a href="#${id}">${escaped(heading)}</a></li>`)
  const sections = document.sections.map(
    ({ id, heading, blocks }) =>
      `<section aria-labelledby="${id}"><h2 id="${id}">${escaped(heading)}</h2>\n${blocks.map(blockHtml).join('\n')}\n</section>`,
  )
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escaped(document.title)}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
<header><h1>${escaped(document.title)}</h1>
<p class="subtitle">${escaped(document.subtitle)}</p>${
    document.warning === '' ? '' : `\n<p class="warning">${escaped(document.warning)}</p>`
  }</header>
<nav aria-label="Contents"><ul>${contents.join('')}</ul></nav>
${sections.join('\n')}
</main>
</body>
</html>
`
}

function blockHtml(block: ReportBlock): string {
  if (block.kind === 'paragraph') return `<p>${escaped(block.text)}</p>`
  if (block.kind === 'answer') return `<p class="answer">${escaped(block.text)}</p>`
  if (block.kind === 'list') return `<ul>${block.items.map((item) => `<li>${escaped(item)}</li>`).join('')}</ul>`
  if (block.kind === 'table') return tableHtml(block)
  return `<figure id="${block.id}">${block.svg}<figcaption>${escaped(block.caption)}</figcaption></figure>`
}

function tableHtml({ caption, columns, rows }: ReportTable): string {
  const side = (index: number): string => (columns[index]?.align === 'right' ? ' class="right"' : '')
  const head = columns.map(({ heading }, i) => `<th scope="col"${side(i)}>${escaped(heading)}</th>`).join('')
  const body = rows
    .map((row) => {
      const cells = row.map((cell, i) =>
        i === 0 ? `<th scope="row"${side(i)}>${escaped(cell)}</th>` : `<td${side(i)}>${escaped(cell)}</td>`,
      )
      return `<tr>${cells.join('')}</tr>`
    })
    .join('\n')
  const size = rows.length <= SHORT_TABLE ? 'wide short' : 'wide'
  return `<div class="${size}" tabindex="0" role="region" aria-label="${escaped(caption)}"><table><caption>${escaped(caption)}</caption><thead><tr>${head}</tr></thead>\n<tbody>${body}</tbody></table></div>`
}

const ESCAPES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
}
const escaped = (text: string): string => text.replace(/[&<>"']/g, (character) => ESCAPES[character] as string)
