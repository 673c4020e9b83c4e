import Database from 'better-sqlite3'

let kept = false

/**
 * Loads SQLite's native code in the calling thread, for the life of the process. Node unmaps an addon when the last
 * thread that loaded it ends, and the final garbage collection of that thread may still call into it: the whole program
 * then dies of SIGSEGV or SIGTRAP, seldom and under load (better-sqlite3, issue 1476). To be called in the main thread
 * before the store's thread starts.
 */
export function keepMapped(): void {
  if (kept) return
  new Database(':memory:').close()
  kept = true
}
