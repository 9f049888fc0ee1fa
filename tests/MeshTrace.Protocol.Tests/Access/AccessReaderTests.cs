using MeshTrace.Protocol.Access;

namespace MeshTrace.Protocol.Tests.Access;

public class AccessReaderTests
{
    // Layout: Mesh Model 1.1 §3.2.1.2; transition time 0x54 = 20 steps of 1 s (§3.1.3); delay 5 ms a step.
    [Fact]
    public void GenericOnOffSet_WithAndWithoutTransition()
    {
        DecodedMessage bare = AccessReader.Read(Convert.FromHexString("82020105"));
        Assert.Equal(("Generic OnOff Set", 2), (bare.Definition!.Name, bare.Fields.Count));
        Assert.False(bare.Problem.IsProblem);

        DecodedMessage full = AccessReader.Read(Convert.FromHexString("82020105540A"));
        Assert.Equal((1L, 5L, 0x54L, 10L), (full["OnOff"]!.Number, full["TID"]!.Number, full["TransitionTime"]!.Number, full["Delay"]!.Number));
        Assert.Equal(("on", "20.0 s", "50 ms"), (full["OnOff"]!.Reads, full["TransitionTime"]!.Reads, full["Delay"]!.Reads));
        Assert.Null(full["TID"]!.Reads);
    }

    [Theory]
    [InlineData("", "no octets", ProblemKind.TooShort, 1, 0, "Opcode")]
    [InlineData("7F00", "the reserved opcode", ProblemKind.WrongValue, 0, 0x7F, "Opcode")]
    [InlineData("82", "half an opcode", ProblemKind.TooShort, 2, 1, "Opcode")]
    [InlineData("D50A", "two thirds of a vendor opcode", ProblemKind.TooShort, 3, 2, "Opcode")]
    [InlineData("820201", "no TID", ProblemKind.TooShort, 4, 3, "TID")]
    [InlineData("8202010554", "transition time without delay", ProblemKind.TooShort, 6, 5, "Delay")]
    [InlineData("82020105540A00", "one octet after the delay", ProblemKind.TooLong, 6, 7, null)]
    [InlineData("800B", "nothing after the opcode", ProblemKind.TooShort, 3, 2, "Beacon")]
    [InlineData("803E000100000000", "half a model identifier", ProblemKind.TooShort, 9, 8, "ModelIdentifier")]
    [InlineData("803E0001000000001000", "a model identifier of three octets", ProblemKind.TooLong, 9, 10, null)]
    [InlineData("804323", "a key index of one octet", ProblemKind.TooShort, 4, 3, "NetKeyIndexes")]
    [InlineData("804323F1", "padding of ones after one key index", ProblemKind.WrongValue, 0, 0, "Padding")]
    [InlineData("52E0090105", "a second value cut off in its first header", ProblemKind.TooShort, 7, 5, "PropertyID")]
    [InlineData("52C4091027", "a value of three octets with two", ProblemKind.TooShort, 6, 5, "RawValue")]
    [InlineData("52E2091027", "a value of two octets where its property has one", ProblemKind.TooLong, 4, 5, "RawValue")]
    [InlineData("67C00100000205C0", "half a chunk number", ProblemKind.WrongValue, 0, 0xC0, "Missing_Chunks")]
    [InlineData("67C001000002C081", "a chunk number in more octets than it needs", ProblemKind.WrongValue, 0, 0xC0, "Missing_Chunks")]
    [InlineData("02000C001A00010008000300000102000000", "one of two models", ProblemKind.TooShort, 20, 18, "SIGModelIDs")]
    [InlineData("80720100068202", "an item shorter than its length says", ProblemKind.TooShort, 8, 7, "Opcode_And_Parameters")]
    [InlineData("80720100048202", "an inner message without its fields", ProblemKind.TooShort, 3, 2, "OnOff")]
    public void BadBytes_AreNamedNotThrown(string hex, string why, ProblemKind kind, int needed, int had, string? field)
    {
        DecodeProblem problem = AccessReader.Read(Convert.FromHexString(hex)).Problem;
        Assert.True((kind, Layer.Access, needed, had, field) == (problem.Kind, problem.Layer, problem.Needed, problem.Had, problem.Field), $"{why}: {problem}");
    }

    [Theory]
    [InlineData("82020105", "TID", 5L)]
    [InlineData("8206FFFF07", "Level", -1L)]
    [InlineData("82020105540A", "Delay", 10L)]
    [InlineData("82020105", "Delay", null)]
    [InlineData("82020105", "Level", null)]
    [InlineData("820201", "TID", null)]
    [InlineData("803E00010000000010", "ModelIdentifier", 0x1000L)]
    [InlineData("8040000000000000000000000000000000000000", "NetKey", null)]
    [InlineData("D50A0048", "TID", null)]
    [InlineData("", "TID", null)]
    public void OneNumberWithoutTheRest(string hex, string field, long? expected)
    {
        bool found = AccessReader.TryReadNumber(Convert.FromHexString(hex), field, out long value);
        Assert.Equal(expected, found ? value : null);
    }

    [Fact]
    public void OneNumberCostsNoAllocation()
    {
        byte[] payload = Convert.FromHexString("82020105540A");
        AccessReader.TryReadNumber(payload, "TID", out _);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 1000; i++)
            AccessReader.TryReadNumber(payload, "TID", out _);
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }

    [Fact]
    public void AnUndefinedOpcodeKeepsItsOctets()
    {
        DecodedMessage message = AccessReader.Read(Convert.FromHexString("80AA0102"));
        Assert.Null(message.Definition);
        Assert.Equal("Parameters=#0102", FieldText.Of(message.Fields));
        Assert.False(message.Problem.IsProblem);
        Assert.Equal("80AA0102", Convert.ToHexString(AccessWriter.Write(message)));
    }
}
