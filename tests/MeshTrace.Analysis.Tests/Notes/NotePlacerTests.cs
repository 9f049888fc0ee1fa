using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Notes;

public sealed class NotePlacerTests
{
    private const long NsPerSecond = 1_000_000_000;
    private readonly AirBuilder _air = new();

    // Presses of panel 0x0003 at 100, 200, 300 s after midnight of 1970-01-01, and other traffic from 0 to 1000 s.
    public NotePlacerTests()
    {
        _air.Access(0, 5, 1, 0x0009, 0xC001, "82020001");
        for (uint press = 0; press < 3; press++)
            _air.Access(100_000 + (100_000 * press), 5, 100 + press, 0x0003, 0xC001, $"820201{press + 1:x2}");
        _air.Access(1_000_000, 5, 2, 0x0009, 0xC001, "82020002");
    }

    [Theory]
    [InlineData("00:01:40", NoteOutcome.Heard, 1)]
    [InlineData("00:01:42", NoteOutcome.Heard, 1)]          // 2 s off
    [InlineData("00:01:43", NoteOutcome.NothingHeard, null)]     // 3 s off
    [InlineData("00:01:38", NoteOutcome.Heard, 1)]
    [InlineData("00:02:30", NoteOutcome.NothingHeard, null)]
    [InlineData("00:01", NoteOutcome.Heard, 1)]             // some time in that minute
    [InlineData("00:30:00", NoteOutcome.OutsideCapture, null)]
    [InlineData("1970-01-01T00:05:00Z", NoteOutcome.Heard, 3)]
    public void ANotedPress_IsLookedForWithinTheWindow(string time, NoteOutcome outcome, int? press)
    {
        PlacedNote note = Assert.Single(Place($"{time},0x0003,pressed").Notes);
        Assert.Equal((outcome, press), (note.Outcome, note.Press));
    }

    [Fact]
    public void WhereNothingWasHeard_TheNumbersAroundTellWhetherTheNodeSent()
    {
        PlacedNote note = Assert.Single(Place("00:02:30,0x0003,pressed: nothing happened").Notes);
        Assert.Equal((100u, 101u, 0), (Seq(note.FloodBefore), Seq(note.FloodAfter), note.NumbersUnheard));

        _air.Access(400_000, 5, 110, 0x0003, 0xC001, "82020104");
        note = Assert.Single(Place("00:06:00,0x0003,pressed").Notes);
        Assert.Equal(7, note.NumbersUnheard);
        note = Assert.Single(Place("00:10:00,0x0003,pressed").Notes);
        Assert.Null(note.NumbersUnheard);       // nothing was heard of it afterwards

        uint? Seq(int? flood) => flood is { } row ? _history!.Floods[row].Seq : null;
    }

    [Theory]
    [InlineData(100u)]      // a number of the first element
    [InlineData(90u)]       // a lower one, long after: one row of numbers would have gone back
    public void ElementsWithNumbersOfTheirOwn_CountEachForItself(uint ofSecond)
    {
        byte[] composition = Convert.FromHexString("0200ffff01000100200000000000" + "0100" + "0110" + "00000100" + "0110");
        var keys = new KeyArguments
        {
            NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))],
            DeviceKeys = [new TypedDeviceKey(new MeshTrace.Protocol.MeshAddress(3), new KeyOctets(ConfigTalk.DeviceKey))],
        };
        List<byte[]> segments = _air.Segments(Convert.ToHexString(composition), 50, 0x0003, 0x0001, ConfigTalk.DeviceKey);
        for (int i = 0; i < segments.Count; i++)
            _air.Network(50_000 + i, false, 5, (uint)(50 + i), 0x0003, 0x0001, segments[i]);
        _air.Access(110_000, 5, ofSecond, 0x0004, 0xC001, "82020001");       // element 2 of the same node
        _air.Access(310_000, 5, ofSecond + 3, 0x0004, 0xC001, "82020002");
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys, Notes = FieldNotesReader.Read("time,node,words\n00:02:30,0x0003,pressed", "notes.csv") });
        analysis.Read(_air.Frames);
        Assert.Equal(2, Assert.Single(analysis.Complete().Notes.Notes).NumbersUnheard);     // element 1: 100, 101; element 2: two between its own
    }

    [Theory]
    [InlineData("00:02:10", "00:03:50", "00:05:30", 30)]        // the clock is 30 s ahead
    [InlineData("01:01:50", "01:03:30", "01:05:10", 3610)]      // another time zone, and 10 s ahead
    public void ACommonShift_IsUsedForAll(string first, string second, string third, int secondsAhead)
    {
        FieldNotes notes = Place($"{first},0x0003,press\n{second},0x0003,press\n{third},0x0003,press\n{first},reading room,somebody came in");
        Assert.Equal(-secondsAhead * NsPerSecond, notes.ShiftNs);
        Assert.Equal([NoteOutcome.Heard, NoteOutcome.Heard, NoteOutcome.Heard, NoteOutcome.Remark], notes.Notes.Select(note => note.Outcome));
    }

    [Fact]
    public void TwoNotes_ThatOneShiftWouldBringTogether_ProveNothing() =>
        Assert.Equal([NoteOutcome.Heard, NoteOutcome.NothingHeard], Place("00:01:40,0x0003,press\n00:04:00,0x0003,pressed: nothing happened").Notes.Select(note => note.Outcome));

    [Fact]
    public void NoShift_WhereOneNoteAloneWouldFit_OrTheNotesFitAsTheyStand()
    {
        Assert.Equal(0, Place("00:02:10,0x0003,press").ShiftNs);
        Assert.Equal(0, Place("00:01:40,0x0003,press\n00:03:20,0x0003,press\n00:04:00,0x0003,press").ShiftNs);
        FieldNotes apart = Place("00:02:10,0x0003,press\n00:03:30,0x0003,press\n00:08:00,0x0003,press\n00:09:00,0x0003,press");     // 30 s and 10 s ahead
        Assert.Equal(0, apart.ShiftNs);
    }

    [Fact]
    public void ANoteAboutAPlaceOrWithoutAPress_IsARemark()
    {
        FieldNotes notes = Place("00:02:30,reading room,pressed\n00:02:30,0x0003,changed the battery\n00:02:30,0xC001,pressed");
        Assert.All(notes.Notes, note => Assert.Equal(NoteOutcome.Remark, note.Outcome));
    }

    private CaptureHistory? _history;

    private FieldNotes Place(string lines)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings
        {
            Keys = new KeyArguments { NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))] },
            Notes = FieldNotesReader.Read("time,node,words\n" + lines, "notes.csv"),
        });
        _air.Frames.Rewind();
        analysis.Read(_air.Frames);
        _history = analysis.Complete();
        return _history.Notes;
    }
}
