using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Tests.Contents;

/// <summary>A content is known by its octets, their number and its kind: written by whole words, it must be what it is octet by octet.</summary>
public class ContentKeyTests
{
    [Fact]
    public void EveryLength_StandsOctetByOctet()
    {
        byte[] octets = new byte[64];
        new Random(32).NextBytes(octets);
        for (int length = 0; length <= ContentKey.MostOctets; length++)
            foreach (int from in (int[])[0, 1, 7, 64 - length])
            {
                var key = ContentKey.Of(ContentKind.PrivateBeacon, octets.AsSpan(from, length));
                byte[] expected = [.. octets.AsSpan(from, length), .. new byte[30 - length], (byte)ContentKind.PrivateBeacon, (byte)length];
                Assert.Equal(expected, ((ReadOnlySpan<byte>)key).ToArray());
                Assert.Equal(octets.AsSpan(from, length), key.Octets);
            }
    }

    [Theory, InlineData(30), InlineData(255)]
    public void MoreOctetsThanAnAdStructureHas_AreRefused(int length) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => ContentKey.Of(ContentKind.MeshMessage, new byte[length]));

    /// <summary>In an empty table, in one with some of them, over more than is looked at.</summary>
    [Fact]
    public void LookingAhead_ChangesNothing()
    {
        var table = new ContentTable(new TableMemory());
        PreparedContent[] contents = [.. Enumerable.Range(0, 100).Select(number => Prepared([(byte)number, 1, 2]))];
        table.LookAhead(contents);
        for (int number = 0; number < contents.Length; number++)
        {
            table.LookAhead(contents.AsSpan(number));
            Assert.Equal(number, table.Intern(in contents[number].Key, contents[number].Hash));
        }
        table.LookAhead([]);
        Assert.Equal(contents.Length, table.Count);

        static PreparedContent Prepared(byte[] octets)
        {
            var key = ContentKey.Of(ContentKind.MeshMessage, octets);
            return new PreparedContent { Key = key, Hash = key.Hash() };
        }
    }
}
