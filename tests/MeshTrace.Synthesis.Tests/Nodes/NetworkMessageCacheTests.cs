using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;

namespace MeshTrace.Synthesis.Tests.Nodes;

public class NetworkMessageCacheTests
{
    private static readonly MeshAddress Src = new(0x0003);

    [Fact]
    public void SeenPdu_IsNotNewAgain()
    {
        var cache = new NetworkMessageCache(2);
        Assert.True(cache.Add(0, Src, 1));
        Assert.False(cache.Add(0, Src, 1));
        Assert.True(cache.Add(1, Src, 1));                     // another IV index is another PDU
        Assert.True(cache.Add(0, new MeshAddress(0x0004), 1));
    }

    [Fact]
    public void FullCache_ForgetsTheOldest()
    {
        var cache = new NetworkMessageCache(2);
        cache.Add(0, Src, 1);
        cache.Add(0, Src, 2);
        cache.Add(0, Src, 3);
        Assert.False(cache.Add(0, Src, 2));
        Assert.True(cache.Add(0, Src, 1));
    }
}
