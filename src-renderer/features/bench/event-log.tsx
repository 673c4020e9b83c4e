import { useEffect, useRef } from 'react'
import { useHost } from '../../client/host.tsx'
import { EmptyState } from '../../ui/controls.tsx'
import { clockTime } from '../../ui/format.ts'

const MARKS = { info: '', warn: '▲ ', error: '■ ' } as const
/** Distance from the end, in px, within which the log keeps following new entries. */
const NEAR_END_PX = 40

export function EventLog() {
  const log = useHost((snapshot) => snapshot.log)
  const box = useRef<HTMLDivElement>(null)
  const follows = useRef(true)
  useEffect(() => {
    const element = box.current
    if (element !== null && log.length > 0 && follows.current) element.scrollTop = element.scrollHeight
  }, [log])
  if (log.length === 0)
    return <EmptyState title="Nothing has happened yet">What rig and sweep do is written here.</EmptyState>
  return (
    <div
      ref={box}
      className="event-log"
      role="log"
      aria-label="Event log"
      tabIndex={0}
      onScroll={({ currentTarget: { scrollHeight, scrollTop, clientHeight } }) => {
        follows.current = scrollHeight - scrollTop - clientHeight < NEAR_END_PX
      }}
    >
      <ol>
        {log.map((entry) => (
          <li key={entry.id} className={`log-${entry.level}`}>
            <time dateTime={entry.at}>{clockTime(entry.at)}</time>
            <span>
              {MARKS[entry.level]}
              {entry.text}
            </span>
          </li>
        ))}
      </ol>
    </div>
  )
}
