/*
 * Making the look-up tables again. See rebuild.h.
 */
#include "ledger/rebuild.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/index.h"

/* Version 1 looked here; newer ones fill it still, so that nothing differs between a file that grew and one made again. */
static int refused_serial_make(sqlite3 *database)
{
    return sqlite3_exec(database,
                        "DELETE FROM refused_serial;"
                        "INSERT INTO refused_serial(currency, serial, entry)"
                        " SELECT currency, serial, min(entry) FROM case_index"
                        " WHERE currency <> '' AND serial <> '' AND disposition IN (2, 3) GROUP BY currency, serial",
                        NULL, NULL, NULL);
}

/* In this order: a step may read what those before it have made. Each empties its tables and fills them from the entries;
 * it answers an SQLite code. A new table that is made from entries gets its step here. */
static int (*const steps[])(sqlite3 *database) = {index_make, refused_serial_make};

static int32_t rebuild_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    (void)user;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        int code = steps[i](ledger->store.database);
        if (code != SQLITE_OK)
            return store_error(ledger->store.database, code, error);
    }
    return CFOIL_OK;
}

int32_t ledger_rebuild(struct ledger *ledger, cfoil_error_info *error)
{
    return ledger_transact(ledger, rebuild_run, NULL, error);
}
