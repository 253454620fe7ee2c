// Where this machine's user keeps what must not travel with a workspace: the second listener's certificate, and the tokens of rigs.
import { homedir } from 'node:os'
import { join } from 'node:path'

export function keysFolder(env: Readonly<Record<string, string | undefined>>): string {
  return join(env['XDG_STATE_HOME'] ?? join(homedir(), '.local', 'state'), 'guardband')
}
