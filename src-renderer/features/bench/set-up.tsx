import { useEffect, useRef } from 'react'
import { useStable } from '../../ui/use-stable.ts'
import { RigCard } from './rig-card.tsx'
import { StimulusCard } from './stimulus-card.tsx'

/** Rig and stimulus, over the screen while they are looked at; Escape closes them. */
export function SetUp({ onClose }: { onClose: () => void }) {
  const box = useRef<HTMLElement>(null)
  const close = useStable(onClose)
  useEffect(() => {
    box.current?.focus()
    // Wherever the focus went meanwhile: what lies over the screen goes with one key. Lists and dialogs close first.
    const listen = (event: KeyboardEvent) => {
      if (event.key !== 'Escape' || event.defaultPrevented) return
      if (document.querySelector('[role=dialog],[role=alertdialog],[role=listbox]') !== null) return
      close()
    }
    addEventListener('keydown', listen)
    return () => removeEventListener('keydown', listen)
  }, [close])
  return (
    <aside ref={box} id="set-up" className="set-up" aria-label="Set-up" tabIndex={-1}>
      <RigCard />
      <StimulusCard />
    </aside>
  )
}
