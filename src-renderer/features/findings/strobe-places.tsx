import { type CrosstalkByPlace, STROBE_COLUMNS, strobeRows } from '#shared/findings/campaign/strobe-places.ts'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { strobeSentences } from '#shared/findings/campaign/strobe-sentences.ts'

/** Strobe crosstalk at top, centre and bottom; nothing where no setting was measured with strobing. */
export function StrobePlaces(props: {
  readonly campaignId: number
  readonly strobe: readonly CrosstalkByPlace[]
  readonly points: readonly MeasuredPoint[]
}) {
  const { campaignId, strobe, points } = props
  if (strobe.length === 0) return null
  return (
    <section aria-label="Strobe crosstalk by place">
      <h2>Strobe crosstalk by place</h2>
      {strobeSentences(strobe, points).map(({ text }) => (
        <p key={text}>{text}</p>
      ))}
      <table className="found-record" aria-label="Strobe crosstalk at places of the screen">
        <thead>
          <tr>
            {STROBE_COLUMNS.map((heading, column) => (
              <th key={heading} scope="col" className={column > 2 ? 'align-end' : ''}>
                {heading}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {strobeRows(strobe).map((row) => (
            <tr key={row.slice(0, 3).join(' ')}>
              {row.map((text, column) => (
                <td key={STROBE_COLUMNS[column]} className={column > 2 ? 'digits align-end' : ''}>
                  {text}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
      <p className="hint">
        Light of the wrong level in the first strobe after a step, percent of the step with U95; signed, since overdrive
        can overshoot. The place of the largest crosstalk is named only where the uncertainties show it.{' '}
        <a href={`#/record/${campaignId}`}>Readings on Record</a>
      </p>
    </section>
  )
}
