import type { ReactNode } from 'react'

/** Numbers under two recipes side by side: what they are of in the first column, figures in the others. */
export function ComparedTable(props: {
  readonly label: string
  readonly heads: readonly string[]
  /** More about some heads, by head. */
  readonly titles?: Readonly<Record<string, string>>
  /** Rows. */
  readonly children: ReactNode
}) {
  return (
    <table className="compared" aria-label={props.label}>
      <thead>
        <tr>
          {props.heads.map((head, i) => (
            <th key={head} scope="col" className={i === 0 ? '' : 'align-end'} title={props.titles?.[head]}>
              {head}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>{props.children}</tbody>
    </table>
  )
}
