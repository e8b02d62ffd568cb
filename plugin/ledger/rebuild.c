/*
 * Making the look-up tables again. See rebuild.h.
 */
#include "ledger/rebuild.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/import.h"
#include "ledger/index.h"
#include "ledger/rollup.h"

/* Version 1 looked here; newer ones fill it still, so that nothing differs between a file that grew and one made again. */
static int refused_serial_make(struct ledger *ledger)
{
    return sqlite3_exec(ledger->store.database,
                        "DELETE FROM refused_serial;"
                        "INSERT INTO refused_serial(currency, serial, entry)"
                        " SELECT currency, serial, min(entry) FROM"
                        " (SELECT currency, serial, entry, disposition FROM case_index"
                        " UNION ALL SELECT currency, serial, entry, disposition FROM case_elsewhere)"
                        " WHERE currency <> '' AND serial <> '' AND disposition IN (2, 3) GROUP BY currency, serial",
                        NULL, NULL, NULL);
}

static int indexes_make(struct ledger *ledger)
{
    return index_make(ledger->store.database);
}

/* In this order: a step may read what those before it have made. Each empties its tables and fills them from the entries;
 * it answers an SQLite code. A new table that is made from entries gets its step here. */
static int (*const steps[])(struct ledger *ledger) = {indexes_make, refused_serial_make, import_records_make,
                                                      rollup_make};

static int32_t rebuild_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    (void)user;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        int code = steps[i](ledger);
        if (code != SQLITE_OK)
            return store_error(ledger->store.database, code, error);
    }
    return CFOIL_OK;
}

int32_t ledger_rebuild(struct ledger *ledger, cfoil_error_info *error)
{
    return ledger_transact(ledger, rebuild_run, NULL, error);
}
