import { useCallback, useEffect, useState } from 'react'
import { parseRoute } from '../../navigation/route.ts'
import { useSettled } from '../../ui/use-settled.ts'
import { readAddress, writeAddress, type DeskAddress } from '../../navigation/address.ts'

/** Wait before the address bar follows, so that running through the list does not flood the browser, ms. */
const WRITE_AFTER_MS = 250

/** What was in view when the desk was left; a bare `#/traces` comes back to it. */
let left: DeskAddress | null = null

function addressOf(hash: string): DeskAddress {
  const { rest, parameters } = parseRoute(hash)
  const address = readAddress(rest, parameters)
  const bare = address.captureId === null && [...parameters].length === 0
  return bare && left !== null ? left : address
}

/** The desk's view, kept in step with the address: links and the back button lead to it, and it can be copied. */
export function useAddress(): readonly [DeskAddress, (change: (now: DeskAddress) => DeskAddress) => void] {
  const [address, setAddress] = useState(() => addressOf(location.hash))
  const settled = useSettled(address, WRITE_AFTER_MS)
  useEffect(() => {
    left = address
  }, [address])
  useEffect(() => {
    const hash = writeAddress(settled)
    if (parseRoute(location.hash).screen === 'traces' && location.hash !== hash) history.replaceState(null, '', hash)
  }, [settled])
  useEffect(() => {
    // The event's own address: the bar may have been written to since.
    const follow = (event: HashChangeEvent) => {
      const { hash } = new URL(event.newURL)
      if (parseRoute(hash).screen === 'traces') setAddress(addressOf(hash))
    }
    addEventListener('hashchange', follow)
    return () => removeEventListener('hashchange', follow)
  }, [])
  const change = useCallback((next: (now: DeskAddress) => DeskAddress) => setAddress((now) => next(now)), [])
  return [address, change]
}
