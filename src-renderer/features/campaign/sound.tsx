import { useEffect, useState } from 'react'
import type { RunQuestion } from '#shared/domain/run.ts'
import { SwitchInput } from '../../ui/fields.tsx'
import { readStored, writeStored } from '../../ui/storage.ts'

const KEY = 'asking-sound'
/** Two tones, Hz, each so long, s. */
const TONES = [660, 880] as const
const TONE_S = 0.18
const VOLUME = 0.2

/** Two short tones when a run asks for something, if the person wants them; each question sounds once. */
export function useAskingSound(question: RunQuestion | null): void {
  const asked = question === null ? null : `${question.instruction} ${question.reason}`
  useEffect(() => {
    if (asked === null || readStored(KEY) !== true) return undefined
    const context = new AudioContext()
    const gain = context.createGain()
    gain.gain.value = VOLUME
    gain.connect(context.destination)
    for (const [i, frequency] of TONES.entries()) {
      const tone = context.createOscillator()
      tone.frequency.value = frequency
      tone.connect(gain)
      tone.start(context.currentTime + i * TONE_S)
      tone.stop(context.currentTime + (i + 1) * TONE_S)
    }
    return () => void context.close()
  }, [asked])
}

export function SoundSwitch() {
  const [isOn, setOn] = useState(readStored(KEY) === true)
  return (
    <SwitchInput
      label="Sound when the run asks for something"
      isSelected={isOn}
      onChange={(on) => {
        setOn(on)
        writeStored(KEY, on)
      }}
    />
  )
}
