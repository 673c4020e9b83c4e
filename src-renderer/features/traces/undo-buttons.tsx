import { useEffect, useRef } from 'react'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { useNotices } from '../../client/notices.tsx'
import { useStable } from '../../ui/use-stable.ts'

/** How long what was undone stays on the screen; the history keeps it, ms. */
const SAID_MS = 8000

/** Undo and redo of what people did, with what they would undo; Ctrl+Z and Ctrl+Shift+Z as well. */
export function UndoButtons({ onCapture }: { onCapture: (captureId: number) => void }) {
  const notices = useNotices()
  const said = useRef<{ readonly id: number; readonly timer: ReturnType<typeof setTimeout> } | null>(null)
  const steps = useHostQuery(['reviews', 'steps'], (client, signal) => client.reviews.steps(undefined, { signal }))
  const undo = useCommand('The step could not be undone', (client) => client.reviews.undo())
  const redo = useCommand('The step could not be redone', (client) => client.reviews.redo())
  const hush = useStable(() => {
    if (said.current === null) return
    clearTimeout(said.current.timer)
    notices.dismiss(said.current.id)
    said.current = null
  })
  const say = (words: string) => {
    hush()
    const id = notices.raise({ kind: 'info', title: words, message: '', remedy: '' })
    said.current = { id, timer: setTimeout(hush, SAID_MS) }
  }
  useEffect(() => hush, [hush])
  const run = useStable((which: 'undo' | 'redo') => {
    const command = which === 'undo' ? undo : redo
    // Whether there is a step the host knows: the newest one may not have reached this list yet.
    if (command.busy) return
    void (async () => {
      const answer = await command.run()
      if (answer === null) return
      say(answer.words)
      // What changed is in sight.
      onCapture(answer.entry.captureId)
    })()
  })
  useEffect(() => {
    const listen = (event: KeyboardEvent) => {
      if (!(event.ctrlKey || event.metaKey) || event.altKey || event.defaultPrevented) return
      const key = event.key.toLowerCase()
      if (key !== 'z' && key !== 'y') return
      // Text being typed has its own undo.
      if (event.target instanceof HTMLElement && event.target.closest('input, textarea') !== null) return
      event.preventDefault()
      run(key === 'y' || event.shiftKey ? 'redo' : 'undo')
    }
    addEventListener('keydown', listen)
    return () => removeEventListener('keydown', listen)
  }, [run])
  const can = (which: 'undo' | 'redo') => steps.data?.[which] ?? null
  return (
    <div className="undo-buttons" role="group" aria-label="Undo and redo">
      {(['undo', 'redo'] as const).map((which) => {
        const what = can(which)
        const name = which === 'undo' ? 'Undo' : 'Redo'
        return (
          <Action
            key={which}
            size="small"
            isDisabled={what === null}
            isPending={which === 'undo' ? undo.busy : redo.busy}
            {...(what === null ? {} : { title: what })}
            aria-label={what === null ? `${name}: nothing to ${which}` : `${name}: ${what}`}
            onPress={() => run(which)}
          >
            <span aria-hidden="true">{which === 'undo' ? '↶ ' : '↷ '}</span>
            {name}
          </Action>
        )
      })}
    </div>
  )
}
