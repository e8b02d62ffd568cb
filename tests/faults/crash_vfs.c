/*
 * A file system that loses power. See crash_vfs.h.
 */
#include "crash_vfs.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    FILES_MAX = 16,
    PENDING_MAX = 4000,
    SECTOR = 512
}; /* the smallest piece a disk writes: common practice, no source */

struct pending {
    bool truncation;
    sqlite3_int64 offset; /* of a truncation: the new size */
    int length;
    unsigned char *bytes;
};

/* What is surely on the disk of one file, and what was written since. */
struct disk_file {
    char path[600];
    bool deleted; /* not surely: the folder was not flushed */
    unsigned char *flushed;
    sqlite3_int64 size;
    struct pending pending[PENDING_MAX];
    int pending_count;
};

struct crash_file {
    sqlite3_file base;
    struct disk_file *disk; /* NULL = a file without a name */
    sqlite3_file *real;
};

static struct {
    sqlite3_vfs vfs;
    sqlite3_vfs *real;
    enum crash_kind kind;
    long at, operations, readings;
    uint32_t seed;
    bool happened, dead;
    struct disk_file files[FILES_MAX];
    int file_count;
} crash;

static void demand(bool condition, const char *what)
{
    if (condition)
        return;
    fprintf(stderr, "crash_vfs: %s\n", what);
    exit(1);
}

static uint32_t choose(uint32_t below)
{
    crash.seed ^= crash.seed << 13;
    crash.seed ^= crash.seed >> 17;
    crash.seed ^= crash.seed << 5;
    return crash.seed % below;
}

/* ---- What the disk holds ---- */

static void disk_free(struct disk_file *disk)
{
    for (int i = 0; i < disk->pending_count; i++)
        free(disk->pending[i].bytes);
    disk->pending_count = 0;
}

static void disk_load(struct disk_file *disk)
{
    FILE *file = fopen(disk->path, "rb");
    long size = 0;
    free(disk->flushed);
    disk->flushed = NULL;
    if (file != NULL) {
        demand(fseek(file, 0, SEEK_END) == 0, "cannot measure a file");
        size = ftell(file);
        rewind(file);
        disk->flushed = malloc((size_t)size + 1);
        demand(disk->flushed != NULL && fread(disk->flushed, 1, (size_t)size, file) == (size_t)size,
               "cannot read a file");
        fclose(file);
    }
    disk->size = size;
}

static struct disk_file *disk_find(const char *path)
{
    for (int i = 0; i < crash.file_count; i++) {
        if (strcmp(crash.files[i].path, path) == 0)
            return &crash.files[i];
    }
    return NULL;
}

static struct disk_file *disk_of(const char *path)
{
    struct disk_file *disk = disk_find(path);
    if (disk == NULL) {
        demand(crash.file_count < FILES_MAX, "too many files");
        disk = &crash.files[crash.file_count++];
        memset(disk, 0, sizeof *disk);
        snprintf(disk->path, sizeof disk->path, "%s", path);
        disk_load(disk);
    } else if (disk->deleted) { /* another file under the same name */
        disk_free(disk);
        free(disk->flushed);
        disk->flushed = NULL;
        disk->size = 0;
    }
    disk->deleted = false;
    return disk;
}

static void size_set(struct disk_file *disk, sqlite3_int64 size)
{
    if (size > disk->size) {
        disk->flushed = realloc(disk->flushed, (size_t)size);
        demand(disk->flushed != NULL, "no memory");
        memset(disk->flushed + disk->size, 0, (size_t)(size - disk->size));
    }
    disk->size = size;
}

/* `length` bytes of a write that reached the disk. */
static void pending_apply(struct disk_file *disk, const struct pending *pending, int length)
{
    if (pending->truncation) {
        size_set(disk, pending->offset);
        return;
    }
    if (length <= 0)
        return;
    if (pending->offset + length > disk->size)
        size_set(disk, pending->offset + length);
    memcpy(disk->flushed + pending->offset, pending->bytes, (size_t)length);
}

static void disk_flush(struct disk_file *disk)
{
    for (int i = 0; i < disk->pending_count; i++)
        pending_apply(disk, &disk->pending[i], disk->pending[i].length);
    disk_free(disk);
}

static void pending_add(struct disk_file *disk, bool truncation, sqlite3_int64 offset, const void *bytes, int length)
{
    if (disk == NULL)
        return;
    demand(disk->pending_count < PENDING_MAX, "too many writes without a flush");
    struct pending *pending = &disk->pending[disk->pending_count++];
    *pending = (struct pending){truncation, offset, length, NULL};
    if (length == 0)
        return;
    pending->bytes = malloc((size_t)length);
    demand(pending->bytes != NULL, "no memory");
    memcpy(pending->bytes, bytes, (size_t)length);
}

/* ---- The moment ---- */

/* Counts an operation. True: it must fail with *code. */
static bool moment(bool reading, bool needs_room, int fault, int *code)
{
    if (crash.dead) {
        *code = fault;
        return true;
    }
    bool counted = reading == (crash.kind == CRASH_READ_FAILS);
    long *count = reading ? &crash.readings : &crash.operations;
    ++*count;
    if (!counted || crash.at == 0 || *count < crash.at)
        return false;
    bool first = *count == crash.at;
    crash.happened = true;
    switch (crash.kind) {
    case CRASH_POWER:
        crash.dead = true;
        *code = fault;
        return true;
    case CRASH_FULL:
        *code = SQLITE_FULL;
        return needs_room;
    case CRASH_READ_ONLY:
        *code = SQLITE_READONLY;
        return needs_room;
    case CRASH_FAIL_ON:
        *code = fault;
        return true;
    default:
        *code = fault;
        return first;
    }
}

/* ---- Files ---- */

static struct crash_file *mine(sqlite3_file *file)
{
    return (struct crash_file *)file;
}

static int file_close(sqlite3_file *file)
{
    return mine(file)->real->pMethods->xClose(mine(file)->real);
}

static int file_read(sqlite3_file *file, void *bytes, int length, sqlite3_int64 offset)
{
    int code;
    if (moment(true, false, SQLITE_IOERR_READ, &code))
        return code;
    return mine(file)->real->pMethods->xRead(mine(file)->real, bytes, length, offset);
}

static int file_write(sqlite3_file *file, const void *bytes, int length, sqlite3_int64 offset)
{
    int code;
    bool alive = !crash.dead;
    bool fails = moment(false, true, SQLITE_IOERR_WRITE, &code);
    if (alive && (!fails || crash.dead)) /* what was under way when the power went may be there, too */
        pending_add(mine(file)->disk, false, offset, bytes, length);
    return fails ? code : mine(file)->real->pMethods->xWrite(mine(file)->real, bytes, length, offset);
}

static int file_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    int code;
    bool alive = !crash.dead;
    bool fails = moment(false, false, SQLITE_IOERR_TRUNCATE, &code);
    if (alive && (!fails || crash.dead))
        pending_add(mine(file)->disk, true, size, NULL, 0);
    return fails ? code : mine(file)->real->pMethods->xTruncate(mine(file)->real, size);
}

static int file_sync(sqlite3_file *file, int flags)
{
    int code;
    (void)flags;
    if (moment(false, false, SQLITE_IOERR_FSYNC, &code))
        return code;
    if (mine(file)->disk != NULL)
        disk_flush(mine(file)->disk);
    return SQLITE_OK; /* nothing here has to outlive this machine */
}

static int file_size(sqlite3_file *file, sqlite3_int64 *size)
{
    return mine(file)->real->pMethods->xFileSize(mine(file)->real, size);
}

static int file_lock(sqlite3_file *file, int level)
{
    return mine(file)->real->pMethods->xLock(mine(file)->real, level);
}

static int file_unlock(sqlite3_file *file, int level)
{
    return mine(file)->real->pMethods->xUnlock(mine(file)->real, level);
}

static int file_reserved(sqlite3_file *file, int *reserved)
{
    return mine(file)->real->pMethods->xCheckReservedLock(mine(file)->real, reserved);
}

static int file_control(sqlite3_file *file, int what, void *argument)
{
    if (what == SQLITE_FCNTL_SIZE_HINT || what == SQLITE_FCNTL_CHUNK_SIZE)
        return SQLITE_OK; /* they would change the size behind our back */
    return mine(file)->real->pMethods->xFileControl(mine(file)->real, what, argument);
}

static int file_sector(sqlite3_file *file)
{
    (void)file;
    return SECTOR;
}

/* A write changes no byte beside it (SQLite assumes the same by default), and promises nothing else. */
static int file_characteristics(sqlite3_file *file)
{
    (void)file;
    return SQLITE_IOCAP_POWERSAFE_OVERWRITE;
}

/* The index of the log is memory that the processes share: it is gone with the power. */
static int shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **memory)
{
    return mine(file)->real->pMethods->xShmMap(mine(file)->real, page, size, extend, memory);
}

static int shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
    return mine(file)->real->pMethods->xShmLock(mine(file)->real, offset, count, flags);
}

static void shm_barrier(sqlite3_file *file)
{
    mine(file)->real->pMethods->xShmBarrier(mine(file)->real);
}

static int shm_unmap(sqlite3_file *file, int remove)
{
    return mine(file)->real->pMethods->xShmUnmap(mine(file)->real, remove);
}

static const sqlite3_io_methods methods = {
    .iVersion = 2, /* no mapped files: every byte goes through here */
    .xClose = file_close,
    .xRead = file_read,
    .xWrite = file_write,
    .xTruncate = file_truncate,
    .xSync = file_sync,
    .xFileSize = file_size,
    .xLock = file_lock,
    .xUnlock = file_unlock,
    .xCheckReservedLock = file_reserved,
    .xFileControl = file_control,
    .xSectorSize = file_sector,
    .xDeviceCharacteristics = file_characteristics,
    .xShmMap = shm_map,
    .xShmLock = shm_lock,
    .xShmBarrier = shm_barrier,
    .xShmUnmap = shm_unmap,
};

/* ---- The file system ---- */

static int vfs_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out_flags)
{
    struct crash_file *opened = mine(file);
    (void)vfs;
    opened->base.pMethods = NULL;
    if (crash.dead)
        return SQLITE_CANTOPEN;
    opened->real = (sqlite3_file *)(opened + 1);
    opened->disk = name != NULL ? disk_of(name) : NULL;
    int code = crash.real->xOpen(crash.real, name, opened->real, flags, out_flags);
    if (opened->real->pMethods != NULL)
        opened->base.pMethods = &methods;
    return code;
}

static int vfs_delete(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
    int code;
    (void)vfs;
    if (moment(false, false, SQLITE_IOERR_DELETE, &code))
        return code;
    struct disk_file *disk = disk_find(name);
    if (disk != NULL) {
        disk->deleted = true;
        if (sync_folder)
            disk->size = -1;
    }
    return crash.real->xDelete(crash.real, name, sync_folder);
}

void crash_vfs_register(void)
{
    crash.real = sqlite3_vfs_find(NULL);
    crash.vfs = *crash.real;
    crash.vfs.zName = "crash";
    crash.vfs.szOsFile = (int)sizeof(struct crash_file) + crash.real->szOsFile;
    crash.vfs.pNext = NULL;
    crash.vfs.xOpen = vfs_open;
    crash.vfs.xDelete = vfs_delete;
    demand(sqlite3_vfs_register(&crash.vfs, 1) == SQLITE_OK, "cannot register");
}

/* ---- Arming and settling ---- */

static void files_forget(void)
{
    for (int i = 0; i < crash.file_count; i++) {
        disk_free(&crash.files[i]);
        free(crash.files[i].flushed);
        crash.files[i].flushed = NULL;
    }
    crash.file_count = 0;
}

void crash_arm(enum crash_kind kind, long at, uint32_t seed)
{
    files_forget();
    crash.kind = kind;
    crash.at = at;
    crash.seed = seed != 0 ? seed : 1;
    crash.operations = 0;
    crash.readings = 0;
    crash.happened = false;
    crash.dead = false;
}

long crash_operations(void)
{
    return crash.kind == CRASH_READ_FAILS ? crash.readings : crash.operations;
}

bool crash_happened(void)
{
    return crash.happened;
}

/* Each write since the last flush is there, torn between two sectors, or lost; a truncation is there or lost. */
static void pending_settle(struct disk_file *disk)
{
    for (int i = 0; i < disk->pending_count; i++) {
        const struct pending *pending = &disk->pending[i];
        uint32_t fate = choose(3);
        if (fate == 0)
            continue;
        int sectors = pending->length / SECTOR;
        int torn = sectors > 0 ? (int)choose((uint32_t)sectors + 1) * SECTOR : 0;
        pending_apply(disk, pending, fate == 1 ? pending->length : torn);
    }
    disk_free(disk);
}

static void disk_settle(struct disk_file *disk)
{
    bool stays_deleted = disk->deleted && (disk->size < 0 || choose(2) == 0);
    if (stays_deleted || (!disk->deleted && access(disk->path, F_OK) != 0))
        return; /* it has another name by now, or none */
    pending_settle(disk);
    FILE *file = fopen(disk->path, "wb");
    demand(file != NULL, "cannot write a file");
    demand(disk->size == 0 || fwrite(disk->flushed, 1, (size_t)disk->size, file) == (size_t)disk->size,
           "cannot write a file");
    fclose(file);
    (void)chmod(disk->path, 0600);
}

void crash_settle(void)
{
    if (crash.dead) {
        for (int i = 0; i < crash.file_count; i++)
            disk_settle(&crash.files[i]);
    }
    crash_arm(CRASH_POWER, 0, 1);
}
