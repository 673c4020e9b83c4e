import { useState } from 'react'
import { useHostQuery } from '../../client/queries.ts'
import { EmptyState, Segmented } from '../../ui/controls.tsx'
import { dayAndTime } from '../../ui/format.ts'

const LIMIT = 200

const SCOPES = [
  { id: 'capture', label: 'This capture' },
  { id: 'all', label: 'Everything' },
] as const

export interface HistoryListProps {
  readonly captureId: number
  readonly onCapture: (captureId: number) => void
}

/** Who did what when, newest first, with what was taken back. */
export function HistoryList(props: HistoryListProps) {
  const [scope, setScope] = useState<(typeof SCOPES)[number]['id']>('capture')
  return (
    <>
      <div className="history-scope">
        <Segmented label="Whose history" value={scope} choices={SCOPES} onChange={setScope} />
      </div>
      <Entries captureId={scope === 'capture' ? props.captureId : null} onCapture={props.onCapture} />
    </>
  )
}

interface EntriesProps {
  /** Of one capture, or of everything when null. */
  readonly captureId: number | null
  readonly onCapture: (captureId: number) => void
}

function Entries({ captureId, onCapture }: EntriesProps) {
  const history = useHostQuery(
    ['reviews', 'history', captureId],
    (client, signal) =>
      client.reviews.history({ limit: LIMIT, ...(captureId === null ? {} : { captureId }) }, { signal }),
    { keep: true },
  )
  const entries = history.data ?? []
  if (entries.length === 0)
    return (
      <EmptyState title="No decisions yet">Decisions and notes are listed here, including those undone.</EmptyState>
    )
  return (
    <ol className="history-list">
      {entries.map((entry) => (
        <li key={entry.id} data-undone={entry.undone}>
          <div className="history-head">
            <strong>{entry.reviewer}</strong>
            <time dateTime={entry.at}>{dayAndTime(entry.at)}</time>
            {entry.undone ? <span className="history-undone">undone</span> : null}
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
