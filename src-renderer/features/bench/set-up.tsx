import { useEffect, useRef } from 'react'
import { RigCard } from './rig-card.tsx'
import { StimulusCard } from './stimulus-card.tsx'

/** Rig and stimulus, over the screen while they are looked at; Escape closes them. */
export function SetUp({ onClose }: { onClose: () => void }) {
  const box = useRef<HTMLElement>(null)
  useEffect(() => {
    box.current?.focus()
  }, [])
  return (
    <aside
      ref={box}
      id="set-up"
      className="set-up"
      aria-label="Set-up"
      tabIndex={-1}
      onKeyDown={(event) => {
        if (event.key !== 'Escape' || event.defaultPrevented) return
        event.preventDefault()
        onClose()
      }}
    >
      <RigCard />
      <StimulusCard />
    </aside>
  )
}
