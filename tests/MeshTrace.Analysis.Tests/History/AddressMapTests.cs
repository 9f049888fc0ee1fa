using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.History;

/// <summary>Against a table of the runtime (common practice, no source).</summary>
public class AddressMapTests
{
    [Fact]
    public void ManySteps_DoWhatATableDoes()
    {
        var random = new Random(7);
        var map = new AddressMap<int>();
        var table = new Dictionary<ushort, int>();
        for (int step = 0; step < 20_000; step++)
        {
            ushort address = (ushort)(random.Next(4) == 0 ? random.Next(0x10000) : 0x00F0 + random.Next(0x20));
            switch (random.Next(100))
            {
                case 0:
                    map.Clear();
                    table.Clear();
                    break;
                case < 40:
                    Assert.Equal(table.TryAdd(address, step), map.TryAdd(new MeshAddress(address), step));
                    break;
                case < 60:
                    Assert.Equal(table.Remove(address), map.Remove(new MeshAddress(address)));
                    break;
                default:
                    bool any = table.TryGetValue(address, out int wanted);
                    Assert.Equal((any, any), (map.Contains(new MeshAddress(address)), map.TryGetValue(new MeshAddress(address), out int got)));
                    Assert.Equal(wanted, got);
                    break;
            }
            Assert.Equal(table.Count, map.Count);
        }
    }
}
