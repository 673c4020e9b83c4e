import { useHostQuery } from '../../client/queries.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { dayAndTime } from '../../ui/format.ts'

const LIMIT = 200

export interface HistoryListProps {
  /** Of one capture, or of everything when null. */
  readonly captureId: number | null
  readonly onCapture: (captureId: number) => void
}

/** Who did what when, newest first, with what was taken back. */
export function HistoryList({ captureId, onCapture }: HistoryListProps) {
  const history = useHostQuery(
    ['reviews', 'history', captureId],
    (client, signal) =>
      client.reviews.history({ limit: LIMIT, ...(captureId === null ? {} : { captureId }) }, { signal }),
    { keep: true },
  )
  const entries = history.data ?? []
  if (entries.length === 0)
    return (
      <EmptyState title="Nothing was decided yet">
        Decisions and notes of people are listed here, with what was taken back.
      </EmptyState>
    )
  return (
    <ol className="history-list">
      {entries.map((entry) => (
        <li key={entry.id} data-undone={entry.undone}>
          <div className="history-head">
            <strong>{entry.reviewer}</strong>
            <time dateTime={entry.at}>{dayAndTime(entry.at)}</time>
            {entry.undone ? <span className="history-undone">taken back</span> : null}
          </div>
          <div>
            {captureId === null ? (
              <button type="button" className="link-button" onClick={() => onCapture(entry.captureId)}>
                {entry.words}
              </button>
            ) : (
              entry.words
            )}
          </div>
          {entry.text === '' ? null : <div className="history-text">“{entry.text}”</div>}
        </li>
      ))}
    </ol>
  )
}
