using CsCheck;
using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Protocol.Tests.Bearer;

public sealed class AdStructureTests
{
    private static (List<(AdType Type, string Data)> Structures, DecodeProblem Problem) Read(ReadOnlySpan<byte> advData)
    {
        List<(AdType, string)> structures = [];
        var reader = new AdStructureReader(advData);
        while (reader.MoveNext())
            structures.Add((reader.Type, Convert.ToHexStringLower(reader.Data)));
        Assert.False(reader.MoveNext());   // the end stays the end
        return (structures, reader.Problem);
    }

    // Mesh Protocol 1.1 §3.3.1 with the Network PDU of §8.3.1 in it, and a flags structure in front.
    [Fact]
    public void Structures_AreFoundOneAfterTheOther()
    {
        byte[] advData = Convert.FromHexString("020106" + "1d2a" + "68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df");
        (List<(AdType, string)> structures, DecodeProblem problem) = Read(advData);
        Assert.Equal([(AdType.Flags, "06"), (AdType.MeshMessage, "68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df")], structures);
        Assert.False(problem.IsProblem);
    }

    [Theory]
    [InlineData("", 0, ProblemKind.None, "no data")]
    [InlineData("00", 0, ProblemKind.None, "early end")]
    [InlineData("02010600ffffff", 1, ProblemKind.None, "what follows a length of 0 is padding")]
    [InlineData("01ff", 1, ProblemKind.None, "a type without data")]
    [InlineData("01", 0, ProblemKind.TooShort, "a length alone")]
    [InlineData("02010603", 1, ProblemKind.TooShort, "the second is only begun")]
    [InlineData("02010605ff4c00", 1, ProblemKind.TooShort, "the second lacks two octets")]
    [InlineData("ff", 0, ProblemKind.TooShort, "the longest length")]
    public void BadBytes_AreNamedNotThrown(string hex, int count, ProblemKind kind, string why)
    {
        (List<(AdType, string)> structures, DecodeProblem problem) = Read(Convert.FromHexString(hex));
        Assert.True(structures.Count == count && problem.Kind == kind, why);
    }

    [Fact]
    public void Problem_TellsWhatIsMissing()
    {
        DecodeProblem problem = Read(Convert.FromHexString("02010605ff4c00")).Problem;
        Assert.Equal((Layer.Bearer, 7, 9, 7), (problem.Layer, problem.Offset, problem.Needed, problem.Had));
    }

    [Fact]
    public void WriteThenRead_IsTheSame() =>
        Gen.Select(Gen.Byte, Gen.Byte.Array[0, 20]).List[0, 8].Sample(written =>
        {
            byte[] advData = [.. Enumerable.Repeat((byte)0xA5, 200)];
            var writer = new AdStructureWriter(advData);
            foreach ((byte type, byte[] data) in written)
                writer.Append((AdType)type, data);
            (List<(AdType Type, string Data)> read, DecodeProblem problem) = Read(advData.AsSpan(0, writer.Length));
            Assert.False(problem.IsProblem);
            Assert.Equal(written.Select(w => ((AdType)w.Item1, Convert.ToHexStringLower(w.Item2))), read);
        });

    [Fact]
    public void RandomOctets_NeverThrowNorReadMoreThanThereIs() => Gen.Byte.Array[0, 300].Sample(octets =>
    {
        (List<(AdType Type, string Data)> structures, _) = Read(octets);
        Assert.True(structures.Sum(s => 2 + s.Data.Length / 2) <= octets.Length);
    });

    [Fact]
    public void Names_AreTheAssignedOnes()
    {
        Assert.Equal("Mesh Message", AdTypeNames.Of(AdType.MeshMessage));
        Assert.Equal("Service Data - 16-bit UUID", AdTypeNames.Of((AdType)0x16));
        Assert.Equal("AD type 0x77", AdTypeNames.Of((AdType)0x77));
        Assert.All(Enum.GetValues<AdType>(), type => Assert.DoesNotContain("AD type", AdTypeNames.Of(type), StringComparison.Ordinal));
        Assert.Equal(50, Enum.GetValues<AdType>().Select(AdTypeNames.Of).Distinct().Count());
    }
}
