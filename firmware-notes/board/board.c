/* The sensor's board with nothing of it real: the reference firmware on an emulated microcontroller, an emulated
 * accelerometer on its bus, and its serial port on a pseudo-terminal, at the pace of the wall clock.
 *
 * Who reads slowly is waited for; where nobody has read for two seconds, bytes are lost, as on a true line.
 *
 * usage: board SENSOR.elf [HZ]       prints "port PATH", then answers each line of standard input with one line:
 *
 *   pose CHORD [SPAN]     how the clip is held, degrees; both axes up are positive
 *   celsius DEGREES
 *   hold clock            somebody holds the bus' clock line low
 *   hold data [CLOCKS]    and the data line, until it was clocked so often (9; 0: for ever)
 *   nack | mute | freeze  the chip refuses what it is sent, does not answer, measures nothing new
 *   let go                all of that is over
 *   brownout              the chip lost its supply for a moment, and its settings with it
 *   upset                 the firmware's timer stops, as after a flipped bit
 *   power SECONDS         the supply fails in the middle of the next line, and comes back so much later
 *   run SECONDS           so much of the board's own time as fast as it goes
 *   time                  how long the board has run, seconds of its own time
 *   waiting               bytes that nobody has read yet
 *   jitter [begin]        the intervals between samples since `begin`
 *   quit                  as the end of the input
 */

#include "chip.h"
#include "jitter.h"
#include "wires.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

enum { TIMSK1 = 0x6F, CUT_AT = 20 };

static avr_t *avr;
static struct chip chip = {.celsius = 23.4, .noise = 25, .dice = 1};
static struct wires wires;
static struct jitter jitter;
static int terminal, other_end;
static FILE *answers;
static char ready[1024]; /* bytes on their way to the pseudo-terminal */
static size_t ready_bytes;
static char line[128];   /* what has come of the firmware's current line */
static size_t column;
static double power_cut; /* length of a power cut that is asked for, seconds; 0: none */
static bool off;

static double micros(avr_cycle_count_t cycle)
{
    return (double)cycle * 1e6 / avr->frequency;
}

static double wall(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec + 1e-9 * now.tv_nsec;
}

static void pass(double seconds)
{
    struct timespec time = {(time_t)seconds, (long)(1e9 * (seconds - (time_t)seconds))};
    nanosleep(&time, NULL);
}

static void sampled(avr_cycle_count_t at)
{
    jitter_sample(&jitter, micros(at));
}

/* What finds no room any more is lost. */
static void deliver(void)
{
    if (ready_bytes > 0 && write(terminal, ready, ready_bytes) < 0 && errno != EAGAIN)
        perror("pseudo-terminal");
    ready_bytes = 0;
}

/* A byte leaves the serial port. */
static void byte_sent(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    char byte = (char)value;
    if (off)
        return;
    ready[ready_bytes++] = byte;
    if (ready_bytes == sizeof ready)
        deliver();
    if (column == 0)
        jitter_line_begins(&jitter);
    if (column < sizeof line - 1)
        line[column++] = byte;
    if (byte == '\n') {
        line[column] = 0;
        jitter_line(&jitter, line);
        column = 0;
    }
    off = power_cut > 0 && column == CUT_AT;
}

/* The emulator would sleep of its own accord: pacing is done below. */
static void no_sleep(avr_t *of, avr_cycle_count_t cycles)
{
    (void)of, (void)cycles;
}

static void open_terminal(void)
{
    terminal = posix_openpt(O_RDWR | O_NOCTTY);
    if (terminal < 0 || grantpt(terminal) || unlockpt(terminal)) {
        perror("pseudo-terminal");
        exit(1);
    }
    /* Kept open, so that readers may come and go. */
    other_end = open(ptsname(terminal), O_RDWR | O_NOCTTY);
    struct termios settings;
    tcgetattr(other_end, &settings);
    cfmakeraw(&settings);
    tcsetattr(other_end, TCSANOW, &settings);
    fcntl(terminal, F_SETFL, O_NONBLOCK);
    fprintf(answers, "port %s\n", ptsname(terminal));
    fflush(answers);
}

static void make_board(const char *program, unsigned hertz)
{
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(program, &firmware) != 0) {
        fprintf(stderr, "%s cannot be read\n", program);
        exit(1);
    }
    avr = avr_make_mcu_by_name("atmega328p");
    avr_init(avr);
    avr->log = LOG_ERROR;
    firmware.frequency = hertz;
    avr_load_firmware(avr, &firmware);
    avr->sleep = no_sleep;

    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), byte_sent, NULL);
    chip.sampled = sampled;
    chip_attach(&chip, avr);
    wires_attach(&wires, avr);
    jitter_begin(&jitter);
}

/* The supply is gone; nothing moves until it comes back, and nothing is as it was. */
static void sit_out_the_cut(void)
{
    pass(power_cut);
    power_cut = 0;
    off = false;
    column = 0;
    memset(avr->data + avr->ioend + 1, 0xA5, avr->ramend - avr->ioend);
    avr_reset(avr);
    chip_power_on(&chip);
    wires_let_go(&wires);
    jitter_begin(&jitter);
}

/* Runs the board's own time forward. */
static void run(double seconds)
{
    avr_cycle_count_t end = avr->cycle + (avr_cycle_count_t)(seconds * avr->frequency);
    while (avr->cycle < end && !off) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed) {
            fprintf(stderr, "the firmware has stopped\n");
            exit(1);
        }
    }
    deliver();
}

static int waiting(void)
{
    int bytes = 0;
    ioctl(other_end, FIONREAD, &bytes);
    return bytes;
}

/* Whether somebody reads who cannot keep up just now: the board's time waits for him. Who has not read for two seconds
 * is no reader. */
static bool reader_is_behind(void)
{
    static int before;
    static double read_last;
    int now = waiting();
    if (now < before || now == 0)
        read_last = wall();
    before = now;
    return now > 1500 && wall() - read_last < 2;
}

/* One command; what it answers, or NULL where it has answered itself. */
static const char *obey(const char *command)
{
    double first, second = 0;
    int clocks = 9;
    if (sscanf(command, "pose %lf %lf", &first, &second) >= 1)
        chip.chord_deg = first, chip.span_deg = second;
    else if (sscanf(command, "celsius %lf", &first) == 1)
        chip.celsius = first;
    else if (!strcmp(command, "hold clock"))
        wires_hold_clock(&wires);
    else if (!strcmp(command, "hold data") || sscanf(command, "hold data %d", &clocks) == 1)
        wires_hold_data(&wires, clocks);
    else if (!strcmp(command, "nack"))
        chip.trouble = TROUBLE_NACK;
    else if (!strcmp(command, "mute"))
        chip.trouble = TROUBLE_MUTE;
    else if (!strcmp(command, "freeze"))
        chip.trouble = TROUBLE_FROZEN;
    else if (!strcmp(command, "let go"))
        chip.trouble = TROUBLE_NONE, wires_let_go(&wires);
    else if (!strcmp(command, "brownout"))
        chip_power_on(&chip);
    else if (!strcmp(command, "upset"))
        avr->data[TIMSK1] = 0;
    else if (sscanf(command, "power %lf", &first) == 1 && first > 0)
        power_cut = first;
    else if (sscanf(command, "run %lf", &first) == 1)
        run(first);
    else if (!strcmp(command, "time"))
        return fprintf(answers, "%.6f\n", micros(avr->cycle) / 1e6), NULL;
    else if (!strcmp(command, "waiting"))
        return fprintf(answers, "%d\n", waiting()), NULL;
    else if (!strcmp(command, "jitter begin"))
        jitter_begin(&jitter);
    else if (!strcmp(command, "jitter"))
        return jitter_print(&jitter, answers), NULL;
    else
        return "error: not a command of this board";
    return "ok";
}

/* All commands that have come; false at their end. */
static bool listen(void)
{
    static char text[256];
    static size_t length;
    struct pollfd input = {STDIN_FILENO, POLLIN, 0};
    while (poll(&input, 1, 0) > 0) {
        if (read(STDIN_FILENO, text + length, 1) != 1)
            return false;
        if (text[length] != '\n') {
            length += length < sizeof text - 1;
            continue;
        }
        text[length] = 0;
        length = 0;
        if (!strcmp(text, "quit"))
            return false;
        const char *answer = obey(text);
        if (answer)
            fprintf(answers, "%s\n", answer);
        fflush(answers);
    }
    return true;
}

int main(int count, char **arguments)
{
    if (count < 2) {
        fprintf(stderr, "usage: board SENSOR.elf [HZ]\n");
        return 2;
    }
    /* The emulator's own remarks go to the standard error. */
    answers = fdopen(dup(STDOUT_FILENO), "w");
    dup2(STDERR_FILENO, STDOUT_FILENO);
    make_board(arguments[1], count > 2 ? (unsigned)strtoul(arguments[2], NULL, 10) : 16000000);
    open_terminal();
    /* The board's time runs with the wall's; a machine that was busy for long is not caught up with. */
    double behind = wall() - micros(avr->cycle) / 1e6;
    while (listen()) {
        if (off)
            sit_out_the_cut();
        double late = wall() - behind - micros(avr->cycle) / 1e6;
        if (late > 0.1 || late < -0.1 || reader_is_behind())
            behind += late;
        else if (late > 0)
            run(late);
        pass(0.002);
    }
    return 0;
}
