/*
 * Pack files and directories on disk.
 */
#include "packs/pack_data.h"

#include "model/error.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* A system that is short of memory says so through errno. */
static int32_t file_fault(cfoil_error_info *error, int os_code, const char *path, const char *what)
{
    if (os_code == ENOMEM)
        return error_memory_set(error, "packs");
    return error_set(error, CFOIL_E_DATA_FILE, os_code, "packs", "%.180s: %s", path, what);
}

/* A pipe or device could keep us waiting for ever, so only a regular file is opened. */
static int32_t size_check(const char *path, size_t *size, cfoil_error_info *error)
{
    struct stat state;
    if (stat(path, &state) != 0)
        return file_fault(error, errno, path, "no such file");
    if (!S_ISREG(state.st_mode))
        return file_fault(error, 0, path, "not a file");
    if (state.st_size > (off_t)PACK_SIZE_MAX)
        return error_set(error, CFOIL_E_DATA_SIZE, 0, "packs", "%.200s: the file is larger than 1 MiB", path);
    *size = (size_t)state.st_size;
    return CFOIL_OK;
}

static int32_t bytes_read(const char *path, char *text, size_t size, cfoil_error_info *error)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return file_fault(error, errno, path, "cannot be opened; check its permissions");
    (void)setvbuf(file, NULL, _IONBF, 0); /* one read of the whole; no buffer whose allocation could fail */
    errno = 0;
    size_t length = fread(text, 1, size, file);
    /* One byte more than expected, or fewer: somebody is writing it. */
    bool whole = length == size && fgetc(file) == EOF && !ferror(file);
    int os_code = errno;
    (void)fclose(file);
    return whole ? CFOIL_OK : file_fault(error, os_code, path, "cannot be read, or changed while it was read");
}

int32_t pack_file_read(const struct memory *memory, const char *path, char **text, size_t *length,
                       cfoil_error_info *error)
{
    int32_t result = size_check(path, length, error);
    if (result != CFOIL_OK)
        return result;
    char *made = memory_allocate(memory, *length + 1);
    if (made == NULL)
        return error_memory_set(error, "packs");
    result = bytes_read(path, made, *length, error);
    if (result != CFOIL_OK) {
        memory_release(memory, made);
        return result;
    }
    *text = made;
    return CFOIL_OK;
}

/* ---- Directories ---- */

static bool name_wanted(const char *name)
{
    size_t length = strlen(name);
    return name[0] != '.' && length > 5 && strcmp(name + length - 5, ".json") == 0;
}

static int32_t path_add(const struct memory *memory, struct pack_directory *directory, const char *folder,
                        const char *name, cfoil_error_info *error)
{
    if (directory->count == PACK_FILES_MAX)
        return error_set(error, CFOIL_E_DATA_SIZE, 0, "packs", "%.150s: more than %u packs in one directory", folder,
                         PACK_FILES_MAX);
    size_t size = strlen(folder) + strlen(name) + 2;
    char *path = memory_allocate(memory, size);
    if (path == NULL)
        return error_memory_set(error, "packs");
    (void)snprintf(path, size, "%s/%s", folder, name);
    directory->paths[directory->count++] = path;
    return CFOIL_OK;
}

static int paths_compare(const void *one, const void *other)
{
    return strcmp(*(char *const *)one, *(char *const *)other);
}

static int32_t names_read(const struct memory *memory, DIR *folder, const char *path, struct pack_directory *directory,
                          cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    errno = 0;
    for (struct dirent *item; result == CFOIL_OK && (item = readdir(folder)) != NULL;) {
        if (name_wanted(item->d_name))
            result = path_add(memory, directory, path, item->d_name, error);
        errno = 0;
    }
    if (result == CFOIL_OK && errno != 0)
        result = file_fault(error, errno, path, "the directory cannot be read");
    return result;
}

int32_t pack_directory_read(const struct memory *memory, const char *path, struct pack_directory *directory,
                            cfoil_error_info *error)
{
    *directory = (struct pack_directory){0};
    DIR *folder = opendir(path);
    if (folder == NULL)
        return file_fault(error, errno, path, "the directory cannot be opened");
    directory->paths = memory_allocate(memory, PACK_FILES_MAX * sizeof *directory->paths);
    if (directory->paths == NULL) {
        (void)closedir(folder);
        return error_memory_set(error, "packs");
    }
    int32_t result = names_read(memory, folder, path, directory, error);
    (void)closedir(folder);
    if (result != CFOIL_OK) {
        pack_directory_release(memory, directory);
        return result;
    }
    if (directory->count > 1)
        qsort(directory->paths, directory->count, sizeof *directory->paths, paths_compare);
    return CFOIL_OK;
}

void pack_directory_release(const struct memory *memory, struct pack_directory *directory)
{
    for (uint32_t i = 0; directory->paths != NULL && i < directory->count; i++)
        memory_release(memory, directory->paths[i]);
    memory_release(memory, directory->paths);
    *directory = (struct pack_directory){0};
}
