"""The base of every error of this program, and the list of all that can go wrong.

| error | where it is raised | what a person sees | exit code |
|---|---|---|---|
| `SettingsError` | settings/load.py, watch.py; plant/faults.py | each problem as `file:line: key: ...` | 2 |
| `NotTomlError` | settings/toml_file.py | the same, for the file; a line of `safe` | 2, `safe` 1 |
| `QuantityError` | settings/schema/quantities.py | the same, for one value; the usage of `--pace` | 2 |
| `ByHandError` | settings/toml_edit.py | which line of a settings file only a person can change | 2 |
| `NotOursError` | settings/ownership.py | whose file it is; nothing in it is believed | 2 |
| `StartError` | service/directories.py, startup.py; cli/run.py | "cannot start", why, and what to do | 3 |
| `AlreadyRunningError` | service/running.py | a `StartError` that names the directory | 3 |
| `BoardError` | outputs/board.py, bank.py, relay.py | "cannot start", or a line of `safe` | 3, `safe` 1 |
| `NobodyRunsError` | service/mailbox.py | that no controller runs and how to start it | 3 |
| `StorageError` | history/database.py | the log: a backup that failed; a line of `log` | -, `log` 2 |
| `RefusedError` | history/database.py | the alarm `storage`, until a person has acted | - |
| `UnusableError` | history/database.py, as one of the next two | the alarm `storage`: a file set aside | - |
| `DamagedError` | history/database.py | the file set aside as damaged; a new one begins | - |
| `NewerVersionError` | history/database.py | the file set aside as newer; a new one begins | - |
| `AlteredError` | history/cells.py | the row is left out | - |
| `NotATimeError` | cli/local_time.py | what was expected of `--since` and `--until` | 2 |
| `NoHistoryError` | cli/from_history.py | why no history can be read | 2 |
| `NotWrittenError` | cli/export.py | what lies there already, or what to install | 2 |
| `OtherHouseError` | replay/run.py | what differs in the wiring of two settings files | 2 |
| `LinkError` | telemetry/link.py, secret.py, incoming.py | the alarm `link` with the cause | - |
| `PutAsideError` | loop.py | the alarm `part-failed` with what is not kept | - |
| `WeatherError` | simulator/weather/ | file, line, what was expected | 2, `run` 3 |
| `ModelError` | simulator/house/grid.py | why no model can stand for this house | 2, `run` 3 |
| `Unusable` | cli/rehearse.py, compare.py | what cannot be used and what to do | 2 |
| `HistoryNotKept` | rehearsal/run.py | why a rehearsal could not be written down | 2 |
| `RehearsalFailed` | rehearsal/several.py | which rehearsal broke off and why | 2, a defect 3 |
| `NoReportError` | cli/report.py | what cannot be used and what to do | 2 |

Where no exit code stands, control goes on. While the controller runs, a `SettingsError` ends nothing either:
the settings in force stay, and the alarm `settings-rejected` names file and line. Any other exception is a
defect. In a part that is not control it is logged and raises `part-failed`; in the decision itself it ends
the program with every output off, and the service starts it again.
"""

from __future__ import annotations


class HypocaustError(Exception):
    """Something that can go wrong and that the program has words for; see the list above."""
