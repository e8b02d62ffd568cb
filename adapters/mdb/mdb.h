/*
 * The MDB/ICP bill-validator adapter.
 */
#ifndef MDB_MDB_H
#define MDB_MDB_H

#include <counterfoil/adapter.h>

extern const cfoil_adapter mdb_adapter;

#endif
