import { useSyncExternalStore } from 'react'

/** A value that changes often: whoever reads it with `useHeld` draws again, whoever only hands it on does not. */
export class Held<T> {
  #value: T
  readonly #listeners = new Set<() => void>()

  constructor(value: T) {
    this.#value = value
  }

  readonly get = (): T => this.#value

  readonly set = (value: T): void => {
    if (Object.is(value, this.#value)) return
    this.#value = value
    for (const listener of this.#listeners) listener()
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }
}

export const useHeld = <T>(held: Held<T>): T => useSyncExternalStore(held.subscribe, held.get)
