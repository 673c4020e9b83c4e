/** A process that opens an archive, which raises its schema, and says so. */
import { closeArchive, openArchive } from '../../src-main/store/archive.ts'
import { clock } from './fixtures.ts'

const [path = ''] = process.argv.slice(2)
process.stdout.write('opening\n')
closeArchive(openArchive({ path, algorithm: '2', at: clock.iso() }))
process.stdout.write('raised\n')
