using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Tests.Support;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Words;

public sealed class ExplanationTests
{
    private const long Minute = 60 * Story.Second;

    [Fact]
    public void Presses_EachInOneLineWithItsFate()
    {
        Story story = Library("entrance panel", "Reading room");
        story.History.Presses = [
            Story.Press(PressOutcome.All, [0x0009, 0x000A], [0x0009, 0x000A]),
            Story.Press(PressOutcome.Some, [0x0009, 0x000A], [0x0009], "off", timeNs: Story.Begin + Minute),
            Story.Press(PressOutcome.None, [0x0009, 0x000A], [], timeNs: Story.Begin + (2 * Minute)),
            Story.Press(PressOutcome.None, [], [], timeNs: Story.Begin + (3 * Minute)),
            Story.Press(PressOutcome.Unknown, [0x0009], [], timeNs: Story.Begin + (4 * Minute), acknowledged: false),
            Story.Press(PressOutcome.Unknown, null, [], timeNs: Story.Begin + (5 * Minute)),
        ];
        string account = story.Explain();
        Assert.Contains("""
            Presses, in the order of time (UTC): 6
              2026-03-02
              18:00:00  entrance panel > Reading room  on   OK   2 of 2, 140 ms
              18:01:00  entrance panel > Reading room  off  PART 1 of 2, 140 ms; not 0x000A
              18:02:00  entrance panel > Reading room  on   NONE 0 of 2
              18:03:00  entrance panel > Reading room  on   NONE nobody listens
              18:04:00  entrance panel > Reading room  on   ?    no answer asked
              18:05:00  entrance panel > Reading room  on   ?    no answer heard

            """.ReplaceLineEndings("\n"), account.Replace("141 ms", "140 ms", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains("Not heard does not mean not sent", string.Join(' ', account.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)), StringComparison.Ordinal);
        Assert.Contains("6 presses: 1 answered by everyone asked, 1 by only some, 2 answered by NOBODY and 2 cannot be told.", Unwrapped(account), StringComparison.Ordinal);
        Assert.Contains("Not answered by all, and no finding explains it - 18:01:00 entrance panel > Reading room (0xC001), off: 0x000A: ", Unwrapped(account), StringComparison.Ordinal);
    }

    [Fact]
    public void Colour_AddsNothingThatIsNotInTheWords()
    {
        Story story = Library("entrance panel", "Reading room");
        story.History.Presses = [Story.Press(PressOutcome.None, [0x0009], []), Story.Press(PressOutcome.All, [0x0009], [0x0009])];
        string coloured = story.Explain(colour: true), plain = story.Explain();
        Assert.Contains("\e[", coloured, StringComparison.Ordinal);
        Assert.Equal(plain, System.Text.RegularExpressions.Regex.Replace(coloured, "\e\\[[0-9;]*m", ""));
    }

    [Theory]
    [InlineData("閲覧室の照明スイッチ入口側", "閲覧室")]
    [InlineData("مصباح غرفة القراءة عند المدخل", "المدخل")]
    [InlineData("panel\u001b[31m\u0007\u202Eevil\r\n", "room\u009b31m")]
    [InlineData("e\u0301\u0301\u0301\u0301\u0301\u0301", "\ud83d\udca1\ud83d\udca1\ud83d\udca1")]
    [InlineData("a name that is much longer than any column of a terminal could ever hold, honestly", "another name that is much longer than any column")]
    public void Names_OfAnyKind_KeepTheColumns(string panel, string room)
    {
        Story story = Library(panel, room);
        story.History.Presses = [Story.Press(PressOutcome.None, [0x0009], []), Story.Press(PressOutcome.Some, [0x0009, 0x0003], [0x0009])];
        story.History.Nodes = [new NodeRecord { Unicast = new MeshAddress(0x0003), Name = panel, FloodsSent = 3, HeardShare = 0.5 }];
        foreach (int columns in (int[])[40, 60, 80, 120, 160])
        {
            string account = story.Explain(columns);
            Assert.DoesNotContain(account, c => char.IsControl(c) && c != '\n' || c == '\u202E');
            foreach (string line in account.Split('\n'))
                Assert.True(DisplayWidth.Of(line) <= Math.Max(columns, 66), $"{DisplayWidth.Of(line)} columns of {columns}: {line}");
            string[] fates = [.. account.Split('\n').Where(line => line.StartsWith("  18:00:00  ", StringComparison.Ordinal))];
            Assert.Equal(2, fates.Length);
            Assert.Equal(WidthBefore(fates[0], " NONE "), WidthBefore(fates[1], " PART "));
        }
    }

    [Fact]
    public void Transfers_SayWhatIsMissing()
    {
        Story story = Library("entrance panel", "Reading room");
        Transfer Sent(TransferOutcome outcome, uint heard, ushort dst = 0x0009) => new()
        {
            IsControl = false, Src = new MeshAddress(0x0003), Dst = new MeshAddress(dst), Seq = 1, IvIndex = 4, SeqZero = 1, Segments = 4, Subnet = 0,
            FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin + Story.Second, Heard = heard, Outcome = outcome,
        };
        story.History.Transfers = [Sent(TransferOutcome.Acknowledged, 0b1011), Sent(TransferOutcome.AllHeard, 0b1111), Sent(TransferOutcome.AllHeard, 0b1111, 0xC001), Sent(TransferOutcome.Incomplete, 0b0011), Sent(TransferOutcome.Cancelled, 0b0001)];
        string account = Unwrapped(story.Explain());
        Assert.Contains("PART 18:00:00 entrance panel > 0x0009: segment 2-3 of 0-3 not heard, nor any acknowledgment", account, StringComparison.Ordinal);
        Assert.Contains("FAIL 18:00:00 entrance panel > 0x0009: cancelled by the receiving node after 1 of 4 segments in 1.0 s", account, StringComparison.Ordinal);
        Assert.Contains("OK 18:00:00 entrance panel > 0x0009: all 4 segments acknowledged in 1.0 s, although this receiver missed 2", account, StringComparison.Ordinal);
        Assert.Contains("? 18:00:00 entrance panel > 0x0009: all 4 segments heard in 1.0 s, but no full acknowledgment was heard", account, StringComparison.Ordinal);
        Assert.Contains("? 18:00:00 entrance panel > Reading room: all 4 segments heard in 1.0 s; a group does not acknowledge", account, StringComparison.Ordinal);
    }

    [Fact]
    public void ThinlyHeardNodes_CarryTheCaveat()
    {
        Story story = Library("entrance panel", "Reading room");
        story.History.Nodes = [new NodeRecord { Unicast = new MeshAddress(0x0003), FloodsSent = 3, HeardShare = 0.41 }];
        Assert.Contains("heard only part of what these nodes sent: entrance panel (41 %). What is 'not heard' from them may well have been sent.", Unwrapped(story.Explain()), StringComparison.Ordinal);
    }

    [Fact]
    public void NothingOpened_SaysWhichNidsAndWhatToCheck()
    {
        var story = new Story();
        story.Frame();
        story.History.DistinctNetworkPdus = 12;
        story.History.UnknownNids = [new UnknownNid(0x12, 9, 40, false), new UnknownNid(0x68, 3, 4, true)];
        string account = Unwrapped(story.Explain());
        Assert.Contains("None of 12 mesh PDUs authenticated with these keys. NIDs seen were 0x12 (40 frames) and 0x68 (4 frames);", account, StringComparison.Ordinal);
        Assert.Contains("check the IV index (--iv-index)", account, StringComparison.Ordinal);
        // It comes first, where everybody looks, and once.
        int told = account.IndexOf("None of 12 mesh PDUs", StringComparison.Ordinal);
        Assert.InRange(told, 0, account.IndexOf("Networks", StringComparison.Ordinal));
        Assert.Equal(told, account.LastIndexOf("None of 12 mesh PDUs", StringComparison.Ordinal));
        Assert.DoesNotContain("What stands out", account, StringComparison.Ordinal);
    }

    [Fact]
    public void UnreadMessages_NameTheKeyThatIsMissing()
    {
        Story story = Library("entrance panel", "Reading room");
        story.Flood(0x0003, 0xC001, 100, [0x6B, 0x00]);       // SEG 0, AKF 1, AID 0x2b
        story.Message(0x0003, 0xC001, 100, [], decrypted: false);
        story.Message(0x0001, 0x0009, 101, [], decrypted: false, key: MessageKey.Device);
        string account = Unwrapped(story.Explain());
        Assert.Contains("2 messages could not be read for want of a key: an application key with AID 0x2b (1) and the device key of 0x0001 or 0x0009 (1). Give a newer export of the network (--network), or what is missing with --app-key or --device-key.", account, StringComparison.Ordinal);
    }

    [Fact]
    public void Damage_AndLostFrames_AreTold()
    {
        Story story = Library("entrance panel", "Reading room");
        story.History.Damages = [new CaptureDamage("evening.pcapng", 12345, "a block was expected")];
        Assert.Contains("evening.pcapng is damaged at octet 12,345: a block was expected. What stands before it is analysed here.", Unwrapped(story.Explain()), StringComparison.Ordinal);
    }

    [Fact]
    public void EmptyCapture_IsSaidPlainly() => Assert.Contains("It holds no frame at all.", new Story().Explain(), StringComparison.Ordinal);

    [Fact]
    public void NoKeyOctets_InAnyAccount()
    {
        Story story = Library("entrance panel", "Reading room");
        Assert.DoesNotContain("0123456789abcdef", story.Explain().Replace(" ", "", StringComparison.Ordinal), StringComparison.OrdinalIgnoreCase);
    }

    private static int WidthBefore(string line, string mark)
    {
        int at = line.IndexOf(mark, StringComparison.Ordinal);
        Assert.True(at > 0, line);
        return DisplayWidth.Of(line[..at]);
    }

    private static string Unwrapped(string account) => string.Join(' ', account.Split((char[])[' ', '\n'], StringSplitOptions.RemoveEmptyEntries));

    /// <summary>A library whose panel 0x0003 and group 0xC001 have these names, in which one PDU was opened.</summary>
    private static Story Library(string panel, string room)
    {
        string Quoted(string text) => System.Text.Json.JsonSerializer.Serialize(text);
        var story = new Story($$"""
            {
              "$schema": "http://json-schema.org/draft-04/schema#", "id": "http://www.bluetooth.com/specifications/assigned-numbers/mesh-profile/cdb-schema.json#", "version": "1.0.0",
              "meshUUID": "00000000-0000-4000-8000-000000000001", "meshName": "Library", "timestamp": "2026-03-01T00:00:00Z", "partial": false,
              "netKeys": [{ "name": "Library", "index": 0, "key": "0123456789abcdef0123456789abcdef", "phase": 0, "minSecurity": "secure", "timestamp": "2026-03-01T00:00:00Z" }],
              "appKeys": [], "provisioners": [], "scenes": [], "networkExclusions": [],
              "groups": [{ "name": {{Quoted(room)}}, "address": "C001", "parentAddress": "0000" }],
              "nodes": [{
                "UUID": "00000000-0000-4000-8000-000000000003", "name": {{Quoted(panel)}}, "unicastAddress": "0003", "deviceKey": "00112233445566778899aabbccddeeff", "security": "secure",
                "configComplete": true, "excluded": false, "netKeys": [{ "index": 0, "updated": false }], "appKeys": [],
                "elements": [{ "index": 0, "location": "0000", "models": [] }]
              }]
            }
            """);
        story.Frame();
        story.History.DistinctNetworkPdus = story.History.OpenedNetworkPdus = 1;
        story.History.TimeSpanNs = (Story.Begin, Story.Begin + (10 * Minute));
        return story;
    }
}
