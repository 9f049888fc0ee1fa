namespace MeshTrace.Commands;

/// <summary>What <c>--help</c> prints, written by hand for someone who has never seen the program. A test keeps it in step with the options.</summary>
internal static class HelpText
{
    public const string Summary = "Tells from recorded Bluetooth mesh traffic what happened to each press, and why.";
    public const string ExplainSummary = "Tells in plain words what a capture holds.";
    public const string BrowseSummary = "Shows a capture on screens: presses, hops, timelines, repeats, transfers, network, octets.";
    public const string ReceiveSummary = "Tells of presses and findings while they are being recorded.";
    public const string RecordsSummary = "Writes everything a capture holds as machine-readable records.";
    public const string ReportSummary = "Writes the account as one page for a browser, a phone and paper.";
    public const string ExcerptSummary = "Cuts out one press, time or node with all that explains it, as a capture of its own.";
    public const string SurveySummary = "Analyses many captures into one dataset, and compares their sites.";
    public const string ComposeSummary = "Makes a capture, its network description and the exact truth from a scenario.";

    /// <summary>Help of a command by its name; of the program for any other.</summary>
    public static string Of(string command) => command switch
    {
        "explain" => Explain + Keys + Udp + Codes,
        "browse" => Browse + Keys + Udp + Codes,
        "receive" => Receive + Keys + Udp + ReceiveCodes,
        "records" => Records + Keys + Udp + Codes,
        "report" => Report + Keys + Udp + Codes,
        "excerpt" => Excerpt + Keys + Udp + Codes,
        "survey" => Survey + Keys.Replace(Notes, "", StringComparison.Ordinal) + Udp + SurveyCodes,
        "compose" => Compose,
        _ => Program,
    };

    private const string Program =
        """
        MeshTrace tells from recorded Bluetooth mesh traffic what happened to each press
        of a button: who answered, who stayed silent, how long it took, and why.

        You need two files:
          1. a capture: advertising traffic recorded near the network with any receiver,
             as pcap, pcapng or BTSnoop (phones write the latter), also packed with gzip;
          2. the network's description: the Mesh Configuration Database (JSON) that the
             provisioning program exports. It holds the keys: treat it as a secret.

        Usage:
          meshtrace explain CAPTURE... --network FILE     the account in plain words
          meshtrace browse CAPTURE... --network FILE      look at it on screens
          meshtrace receive --from FILE --network FILE    tell it while it is recorded
          meshtrace records CAPTURE... --network FILE     the same as data, JSON lines
          meshtrace report CAPTURE... --to FILE.html      one page to hand on or print
          meshtrace excerpt CAPTURE... --to FILE.pcapng   cut out what matters
          meshtrace survey FOLDER --to DATASET            many captures, site by site
          meshtrace compose SCENARIO --to DIR             make practice captures
          meshtrace COMMAND --help                        all options of a command
          meshtrace --version

        Examples:
          meshtrace explain evening.pcapng --network library.json
          meshtrace explain hall.pcap.gz stairs.pcap.gz --network library.json
          meshtrace records evening.pcapng --network library.json --only press
          meshtrace explain evening.pcapng --net-key @site.keys

        Without keys the program still tells which networks and devices it saw.

        """;

    private const string Explain =
        """
        Tells in plain words what a capture holds: the capture at a glance, what stands
        out, each press with its fate, transfers, networks and nodes.

        Usage: meshtrace explain CAPTURE... [options]

          CAPTURE               pcap, pcapng or BTSnoop file, also packed with gzip;
                                '-' reads standard input. Several files are merged by
                                their times, as one recording by several receivers.

        Options:
          --colour WHEN         auto (on a terminal, unless NO_COLOR is set), always or
                                never. Every mark is also a word. Also --color.

        Examples:
          meshtrace explain evening.pcapng --network library.json
          gunzip -c evening.pcap.gz | meshtrace explain - --network library.json

        """;

    private const string Browse =
        """
        Shows a capture on screens in the terminal, one for each question: Presses,
        Timelines, Hops, Repeats, Transfers, Network, Octets. It opens on the presses
        while it still reads. '?' lists the keys of the screen in front, 'q' leaves.

        Usage: meshtrace browse CAPTURE... [options]
               meshtrace browse --from FILE [options]

          CAPTURE               pcap, pcapng or BTSnoop file, also packed with gzip.
                                Several files are merged by time.

        Options, to look while it is recorded (docs/live.md):
          --from FILE           A growing capture file or text log, or a pipe. May be
                                given several times.
          --interface NAME      An interface of this machine; see 'meshtrace receive'.
          --history MINUTES     How far back the history goes, in memory: 60, unless
                                given; 1 to 1440.
          --keep FILE           Save everything received, as pcapng (a text log as it is).
          --overwrite           Replace that file if it stands there already.

        Recording radio traffic may need the owner's consent and is regulated locally.

        Needs a terminal of at least 80 columns and 24 lines. Colours are the terminal's
        own; with NO_COLOR set there are none, and every mark is also a word.

        Examples:
          meshtrace browse evening.pcapng --network library.json
          meshtrace browse --from growing.pcapng --network library.json

        """;

    private const string Receive =
        """
        Tells of presses and findings while they are being recorded: a line for each
        press once its outcome is settled, findings when they are raised. On a terminal a
        last line tells how it stands. Ctrl-C ends it and saves everything; that is its
        usual end, and no error. docs/live.md describes it.

        Usage: meshtrace receive --from FILE [options]
               meshtrace receive --interface NAME [options]

        Options:
          --from FILE           A growing capture file or text log, a pipe, or '-' for
                                standard input, of any format that is read. May be given
                                several times: each is a receiver, or several, of one
                                recording. A file that is replaced is gone on with; a
                                pipe ends with its writer.
          --interface NAME      An interface of this machine, through libpcap: one that
                                gives Bluetooth frames, or, with --udp-port, one of the
                                building network. May be given several times.
          --list-interfaces     Tell which interfaces there are and which are suitable,
                                and do nothing else.
          --keep FILE           Save everything received, as pcapng (a text log as it is).
          --records FILE        At the end, write the records of the history, JSON lines.
          --overwrite           Replace these two files if they stand there already.
          --history MINUTES     How far back the history goes, in memory: 60, unless
                                given; 1 to 1440. Older traffic is in --keep alone.
          --until-quiet SECONDS End when nothing has come for so long.
          --colour WHEN         auto (on a terminal, unless NO_COLOR is set), always or
                                never. Every mark is also a word. Also --color.

        Recording radio traffic may need the owner's consent and is regulated locally.

        Examples:
          meshtrace receive --from evening.pcapng --network library.json
          receiver-program | meshtrace receive --from - --network library.json \
            --keep evening.pcapng
          meshtrace receive --interface eth0 --udp-port 17754 --udp-link-type 256 \
            --network library.json

        """;

    private const string ReceiveCodes =
        """

        Exit codes:
          0  all well, also after Ctrl-C
          2  the command line cannot be understood, or a key is malformed
          3  a file cannot be read, or is not what it should be
          4  nothing came, no mesh traffic, or none that the keys open
          5  a capture is damaged, or its writer ended within a record
          6  what came could not be saved any more, or the records not be written
          1  a fault of the program itself; 130 stopped by Ctrl-C before it began

        """;

    private const string Records =
        """
        Writes everything a capture holds as records: one JSON object a line, the first
        naming the contract and its version; or one table a record kind. docs/records.md
        describes every field and column, docs/records.schema.json checks them.

        Usage: meshtrace records CAPTURE... [options]

          CAPTURE               pcap, pcapng or BTSnoop file, also packed with gzip;
                                '-' reads standard input. Several files are merged by
                                their times, as one recording by several receivers.

        Options:
          --as FORM             jsonl (JSON lines; the default), csv or parquet (tables).
          --to PLACE            jsonl: a file, instead of standard output. csv, parquet: a
                                folder, made if it is missing, for one file a record
                                kind: press.csv, press.parquet and so on.
          --overwrite           Replace tables that stand in the folder already.
          --only KIND,...       Only these kinds: frame, flood, message, transfer, press,
                                beacon, provisioning, connection, node, event, note,
                                finding, key.
          --reveal-keys         Also write the network's keys, in clear.
          --redact              Put pseudonyms and numbers in the place of addresses,
                                keys and names; docs/redaction.md says what stays.
          --keep-payloads       With --redact: keep what vendor messages say.

        Examples:
          meshtrace records evening.pcapng --network library.json --to evening.jsonl
          meshtrace records evening.pcapng --network library.json --only press,finding
          meshtrace records evening.pcapng --network library.json --as parquet --to tables
          meshtrace records evening.pcapng --network library.json --as csv --only press

        """;

    private const string Report =
        """
        Writes the account as one page (HTML) to send, to read on a phone and to print on
        A4: summary, findings with remedies, presses, timeline, hops, repeats, transfers,
        heard shares, and a commissioning sheet to sign. The page asks for nothing from
        anywhere and holds no key. docs/report.md describes it.

        Usage: meshtrace report CAPTURE... --to FILE.html [options]

          CAPTURE               pcap, pcapng or BTSnoop file, also packed with gzip;
                                '-' reads standard input. Several files are merged by
                                their times, as one recording by several receivers.

        Options:
          --to FILE             Where to write the page; '-' is standard output.
          --overwrite           Replace the file if it stands there already.
          --redact              Put pseudonyms and numbers in the place of addresses,
                                keys and names; docs/redaction.md says what stays.
          --keep-payloads       With --redact: keep what vendor messages say.

        Example:
          meshtrace report evening.pcapng --network library.json --to evening.html

        """;

    private const string Excerpt =
        """
        Cuts out the frames of one press, one time or one node, and those that explain
        them: the beacon before, segments and acknowledgments of the same transfers,
        friendships, what handed out keys, the configuration of the nodes that take
        part, and enough of their sequence numbers. Read by itself, with the same
        description, it tells the same of its presses; that is checked, and where it does
        not, more is taken. docs/excerpts.md describes it.

        Usage: meshtrace excerpt CAPTURE... --to FILE.pcapng [options]

          CAPTURE               pcap, pcapng or BTSnoop file, also packed with gzip.
                                Several files are merged by their times.

        Options, one of the first three:
          --press N             The press with this number in the records.
          --from TIME           A time; one of the two may be left out.
          --until TIME          18:05:30 in the capture's clock (UTC), also with decimals
                                of a second; or 2026-03-02T18:05:30Z.
          --node NODE           A node, by its name or address: what it sent, passed on
                                and was sent, and the presses that concern it.
          --to FILE             Where to write the excerpt, as pcapng.
          --overwrite           Replace the file if it stands there already.
          --redact              Make it again with pseudonyms and fresh keys, and write
                                the description that opens it: NAME.network.json.
                                docs/redaction.md says what stays.
          --keep-payloads       With --redact: keep what vendor messages say.

        Examples:
          meshtrace excerpt evening.pcapng --network library.json --press 9 --to 9.pcapng
          meshtrace excerpt hall.pcapng --from 18:05:10 --until 18:05:20 --to 10s.pcapng
          meshtrace excerpt day.pcapng --network net.json --press 9 --redact --to 9.pcapng

        """;

    private const string Keys =
        """

        Keys:
          --network FILE        The network's exported description (Mesh Configuration
                                Database, JSON): keys, nodes, names, groups.
          --net-key KEY         A network key: 32 hexadecimal digits, or INDEX=HEX.
          --app-key KEY         An application key, in the same form.
          --device-key KEY      A node's device key: ADDRESS=HEX, for example 0x0003=...
          --label UUID          A label UUID (virtual address).
          --provisioning-key HEX
                                The private key of a provisioner or device: opens the
                                provisioning heard, and learns its keys.
          --provisioning-oob VALUE
                                The out-of-band value of a provisioning, to check its
                                confirmations: a number, octets in hexadecimal, or
                                text: and the letters and digits shown.
          --iv-index N          The IV index, where neither a beacon nor a search from 0
                                upward finds it.
          --vendor-messages FILE
                                A table of vendor messages, to name their fields.
          --notes FILE          Notes from the field, comma-separated: time,node,words.
                                See docs/notes.md.
          --receiver-offset NAME=SECONDS
                                How far a receiver's clock is ahead (negative: behind),
                                instead of finding it from what several heard. NAME is
                                its interface, file or number. See docs/captures.md.

          Each key may be given more than once. Keys typed on a command line end up
          in the shell's history: better write @FILE instead (one value a line), or set
          MESHTRACE_NET_KEY, MESHTRACE_APP_KEY, MESHTRACE_DEVICE_KEY, MESHTRACE_LABEL,
          MESHTRACE_IV_INDEX, MESHTRACE_PROVISIONING_KEY and MESHTRACE_PROVISIONING_OOB
          (values separated by commas).

        """;

    /// <summary>As it stands in <see cref="Keys"/>: notes and clocks belong to one capture.</summary>
    private const string Notes =
        """
          --notes FILE          Notes from the field, comma-separated: time,node,words.
                                See docs/notes.md.
          --receiver-offset NAME=SECONDS
                                How far a receiver's clock is ahead (negative: behind),
                                instead of finding it from what several heard. NAME is
                                its interface, file or number. See docs/captures.md.

        """;

    private const string Udp =
        """

        Receivers on the building network, recorded as Ethernet or IP:
          --udp-port N          The UDP port that the receivers send to.
          --udp-link-type N     What a datagram holds: 187, 201, 251, 254, 256 or 272.
                                Each sender's address is a receiver of its own.

        """;

    private const string Codes =
        """

        Exit codes:
          0  all well
          2  the command line cannot be understood, or a key is malformed
          3  a file cannot be read, or is not what it should be
          4  no mesh traffic in the capture, or none that the keys open
          5  the capture is damaged; what stands before the damage was analysed
          6  the result cannot be written
          1  a fault of the program itself; 130 stopped by Ctrl-C

        """;

    private const string Survey =
        """
        Analyses the captures of a folder one after the other, writes their records into
        a dataset of Parquet files, one partition a capture, and prints a comparison of
        the sites. What is done already is skipped; a capture that fails is told and does
        not stop the others. docs/fleet.md describes the dataset and work on a cluster.

        Usage: meshtrace survey FOLDER --to DATASET [options]

          FOLDER                Where the captures lie, also in folders of its own: each
                                of these is a site. Beside a capture NAME.pcapng lies its
                                description NAME.network.json, or network.json for all
                                captures of the folder; else --network is taken.

        Options:
          --to DATASET          The folder of the dataset; made if it is missing.
          --only KIND,...       Only these tables, and those that the comparison needs
                                (press, node, finding).
          --only-capture NAME   Only this capture; may be given more than once.
          --shard K/N           Only every N-th capture, from the K-th on: one of N tasks.
          --redo                Analyse again what is done already.
          --list                Print the names of the captures, and do nothing else.

        With --only-capture or --shard no comparison is printed: when all tasks are done,
        'meshtrace-survey DATASET' does that.

        Examples:
          meshtrace survey sites --to dataset
          meshtrace survey sites --to dataset --network campus.json --only press

        """;

    private const string SurveyCodes =
        """

        Exit codes:
          0  all well
          2  the command line cannot be understood, or a key is malformed
          3  the folder cannot be read, or holds no capture
          4  in some captures nothing was decoded
          5  some captures are damaged; what stands before the damage was analysed
          6  the dataset cannot be written
          7  some captures failed; all others were analysed
          1  a fault of the program itself; 130 stopped by Ctrl-C

        """;

    private const string Compose =
        """
        Makes practice material: simulates the radio network of a scenario and writes its
        capture, its network description and the exact truth of every press. The same
        scenario gives the same files, octet for octet.

        Usage: meshtrace compose SCENARIO --to DIR

          SCENARIO              A scenario file (JSON).

        Options:
          --to DIR              The folder to write into; made if it is missing.

        Example:
          meshtrace compose captures-demo/library.scenario.json --to practice

        Exit codes: 0 all well; 2 the command line cannot be understood; 3 the scenario
        cannot be read; 6 the files cannot be written; 1 a fault of the program itself.

        """;
}
