/** What the plot shows beside the trace; the choice stays on this machine. */
import { useCallback, useState } from 'react'
import { readStored, writeStored } from '../../ui/storage.ts'

const LAYER_IDS = ['raw', 'repeats', 'residual', 'blur', 'frames', 'windows', 'cursors', 'spectrum'] as const
export type LayerId = (typeof LAYER_IDS)[number]
export type Layers = Readonly<Record<LayerId, boolean>>

const KEY = 'desk-layers'
const FIRST: Layers = {
  raw: true,
  repeats: false,
  residual: false,
  blur: false,
  frames: true,
  windows: true,
  cursors: false,
  spectrum: false,
}

/** Stored choices where they are choices; the rest as on the first day. */
function restoreLayers(stored: unknown): Layers {
  if (typeof stored !== 'object' || stored === null) return FIRST
  const held = stored as Readonly<Record<string, unknown>>
  const layers: Record<LayerId, boolean> = { ...FIRST }
  for (const id of LAYER_IDS) if (typeof held[id] === 'boolean') layers[id] = held[id]
  return layers
}

export function useLayers(): readonly [Layers, (id: LayerId) => void] {
  const [layers, setLayers] = useState(() => restoreLayers(readStored(KEY)))
  const toggle = useCallback(
    (id: LayerId) =>
      setLayers((now) => {
        const next = { ...now, [id]: !now[id] }
        writeStored(KEY, next)
        return next
      }),
    [],
  )
  return [layers, toggle]
}
