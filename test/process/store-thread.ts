/** Opens and closes an archive in the given folder and prints whether SQLite's native code is mapped (Linux). */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { openTestStore } from '../store/fixtures.ts'

const mapped = (): boolean => /better[-_]sqlite3[^\n]*\.node/.test(readFileSync('/proc/self/maps', 'utf8'))

const store = await openTestStore(join(process.argv[2] ?? '', 'archive.slewlight'))
const whileOpen = mapped()
await store.close()
process.stdout.write(JSON.stringify({ whileOpen, afterClosing: mapped() }))
