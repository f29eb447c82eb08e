// What a worker may not do, whatever a file makes of it. This runs before main, before the Go runtime and the
// picture libraries have started a thread: what a thread gives up, only those that it starts later give up, too.
//
// Source: Linux man-pages, landlock(7), seccomp(2), PR_SET_NO_NEW_PRIVS(2const), close_range(2).

#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>

// As WorkerArgument has it; lock_test.go compares.
#define WORKER_ARGUMENT "unpack-photos"

// Landlock is written out here, for headers of older build machines lack some of it or all.
struct ruleset { uint64_t files, network, outside; };
struct __attribute__((packed)) beneath { uint64_t allowed; int32_t parent; };
enum { BENEATH = 1, VERSION = 1 };
enum { EXECUTE = 1 << 0, READ_FILE = 1 << 2, READ_FOLDER = 1 << 3, FIRST = (1 << 13) - 1, REFER = 1 << 13, TRUNCATE = 1 << 14, DEVICES = 1 << 15 };
enum { BIND_AND_CONNECT = 3, SOCKETS_AND_SIGNALS = 3 };
#ifndef SYS_landlock_create_ruleset
#define SYS_landlock_create_ruleset 444
#define SYS_landlock_add_rule 445
#define SYS_landlock_restrict_self 446
#endif

static void allow(int rules, const char *path, uint64_t what) {
	struct beneath rule = {what, open(path, O_PATH | O_CLOEXEC)};
	struct stat is;
	if (rule.parent < 0)
		return;
	if (fstat(rule.parent, &is) == 0 && !S_ISDIR(is.st_mode))
		rule.allowed &= EXECUTE | READ_FILE;
	syscall(SYS_landlock_add_rule, rules, BENEATH, &rule, 0);
	close(rule.parent);
}

// allow_list allows what a list of folders names, as in PATH; "." and the like don't count.
static void allow_list(int rules, const char *list) {
	char *copy = list ? strdup(list) : NULL, *rest = copy, *one;
	while (rest && (one = strsep(&rest, ":")))
		if (one[0] == '/' && one[1])
			allow(rules, one, EXECUTE | READ_FILE | READ_FOLDER);
	free(copy);
}

// lock_files leaves programs, libraries and fonts to be read and run, and nothing to be written or made.
static void lock_files(void) {
	static const char *const system[] = {
		"/usr", "/lib", "/lib64", "/bin", "/etc/ld.so.cache", "/etc/fonts", "/etc/localtime", "/var/cache/fontconfig", "/proc/self",
		"/sys/devices/system/cpu", "/dev/null", "/dev/zero", "/dev/urandom", NULL,
	};
	struct ruleset all = {FIRST, 0, 0};
	long version = syscall(SYS_landlock_create_ruleset, NULL, 0, VERSION);
	int rules;
	if (version < 1)
		return;
	if (version >= 2)
		all.files |= REFER;
	if (version >= 3)
		all.files |= TRUNCATE;
	if (version >= 4)
		all.network = BIND_AND_CONNECT;
	if (version >= 5)
		all.files |= DEVICES;
	if (version >= 6)
		all.outside = SOCKETS_AND_SIGNALS;
	if ((rules = syscall(SYS_landlock_create_ruleset, &all, version < 4 ? 8 : version < 6 ? 16 : sizeof all, 0)) < 0)
		return;
	for (const char *const *s = system; *s; s++)
		allow(rules, *s, EXECUTE | READ_FILE | READ_FOLDER);
	allow_list(rules, getenv("PATH"));
	allow_list(rules, getenv("LD_LIBRARY_PATH"));
	if (getenv("GOCOVERDIR")) // a test counts what it covers
		allow(rules, getenv("GOCOVERDIR"), FIRST);
	syscall(SYS_landlock_restrict_self, rules, 0);
	close(rules);
}

#if defined(__x86_64__)
#define MACHINE AUDIT_ARCH_X86_64
#elif defined(__aarch64__)
#define MACHINE AUDIT_ARCH_AARCH64
#endif

// lock_calls refuses what no unpacking needs: the network, what Landlock leaves of files, other processes'
// memory, the machine itself.
// It lists what is refused, not what is allowed: a newer library may need a call that nobody thought of here.
static void lock_calls(void) {
#ifdef MACHINE
	static const int refused[] = {
		SYS_socket, SYS_socketpair, SYS_connect, SYS_bind, SYS_listen, SYS_accept, SYS_accept4,
		SYS_truncate, SYS_fchmod, SYS_fchmodat, SYS_fchown, SYS_fchownat, SYS_utimensat, SYS_setxattr, SYS_lsetxattr, SYS_fsetxattr,
		SYS_removexattr, SYS_lremovexattr, SYS_fremovexattr,
		SYS_ptrace, SYS_process_vm_readv, SYS_process_vm_writev, SYS_kcmp, SYS_perf_event_open, SYS_bpf, SYS_userfaultfd,
		SYS_keyctl, SYS_add_key, SYS_request_key, SYS_mount, SYS_umount2, SYS_pivot_root, SYS_chroot, SYS_unshare, SYS_setns,
		SYS_open_by_handle_at, SYS_init_module, SYS_finit_module, SYS_delete_module, SYS_kexec_load, SYS_reboot, SYS_swapon,
		SYS_swapoff, SYS_acct, SYS_quotactl, SYS_settimeofday, SYS_clock_settime, SYS_clock_adjtime, SYS_adjtimex,
		SYS_sethostname, SYS_setdomainname, SYS_syslog, SYS_vhangup, SYS_msgget, SYS_semget, SYS_shmget, SYS_mq_open,
#ifdef SYS_chmod // newer machines lack the older calls
		SYS_chmod, SYS_chown, SYS_lchown, SYS_utime, SYS_utimes, SYS_futimesat,
#endif
#ifdef SYS_fchmodat2
		SYS_fchmodat2,
#endif
#ifdef SYS_io_uring_setup
		SYS_io_uring_setup,
#endif
#ifdef SYS_pidfd_getfd
		SYS_pidfd_getfd,
#endif
	};
	enum { HEAD = 4, N = sizeof refused / sizeof *refused };
	struct sock_filter f[HEAD + N + 2] = {
		BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, arch)),
		BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, MACHINE, 0, 2 + N + 1), // calls of another machine's kind have other numbers
		BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
		BPF_JUMP(BPF_JMP | BPF_JGE | BPF_K, 0x40000000, N + 1, 0), // and so have those of x32
	};
	struct sock_fprog program = {HEAD + N + 2, f};
	for (int i = 0; i < N; i++)
		f[HEAD + i] = (struct sock_filter)BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (uint32_t)refused[i], N - i, 0);
	f[HEAD + N] = (struct sock_filter)BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW);
	f[HEAD + N + 1] = (struct sock_filter)BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ERRNO | EPERM);
	prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program);
#endif
}

// lock does all of it for a process that was started as a worker, and nothing for any other.
__attribute__((constructor)) static void lock(int argc, char **argv) {
	if (argc < 2 || strcmp(argv[1], WORKER_ARGUMENT))
		return;
#ifdef SYS_close_range
	syscall(SYS_close_range, 3, ~0U, 0); // what the program's own parent may have left open
#endif
	// What an older kernel doesn't know is left out: photos are unpacked all the same.
	if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0) { // the others ask for it
		lock_files();
		lock_calls();
	}
}
