import { useSyncExternalStore } from 'react'
import { Button } from 'react-aria-components'
import { useNotices } from '../client/notices.tsx'

export function NoticeList() {
  const board = useNotices()
  const notices = useSyncExternalStore(board.subscribe, board.all)
  return (
    <section
      className="notices"
      aria-label="Messages"
      onPointerEnter={() => board.hold(true)}
      onPointerLeave={() => board.hold(false)}
      onFocus={() => board.hold(true)}
      onBlur={() => board.hold(false)}
    >
      {notices.map((notice) => (
        <div
          key={notice.id}
          className={`notice notice-${notice.kind}`}
          role={notice.kind === 'error' ? 'alert' : 'status'}
        >
          <div className="notice-text">
            <strong>
              {notice.title}
              {notice.times > 1 ? ` (${notice.times} times)` : ''}
            </strong>
            <p>{notice.message}</p>
            {notice.remedy === '' ? null : <p className="notice-remedy">{notice.remedy}</p>}
          </div>
          <Button
            className="button button-quiet"
            aria-label={`Dismiss: ${notice.title}`}
            onPress={() => board.dismiss(notice.id)}
          >
            ✕
          </Button>
        </div>
      ))}
    </section>
  )
}
