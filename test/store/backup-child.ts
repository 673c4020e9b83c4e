/** A process that raises copies of an older archive one after the other, until it is killed. */
import { copyFileSync } from 'node:fs'
import { closeArchive, openArchive } from '../../src-main/store/archive.ts'
import { clock } from './fixtures.ts'

const [older = '', folder = ''] = process.argv.slice(2)
process.stdout.write('open\n')
for (let n = 0; ; n++) {
  const path = `${folder}/${n}.slewlight`
  copyFileSync(older, path)
  process.stdout.write(`raising ${n}\n`)
  closeArchive(openArchive({ path, algorithm: '1', at: clock.iso() }))
  process.stdout.write(`raised ${n}\n`)
}
