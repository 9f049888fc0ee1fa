using CsCheck;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Security;

namespace MeshTrace.Protocol.Tests.Network;

/// <summary>A batch opens each of its PDUs as the one-by-one way does, whatever stands beside it.</summary>
public class NetworkBatchTests
{
    public static TheoryData<string> Paths => AesPaths.Names;

    private static readonly Gen<byte[]> Key = Gen.Byte.Array[16];

    /// <summary>Access and control PDUs of every length, each with an IV index of its own; Fault: 0 to 1 none, 2 a bit wrong, 3 other IV index, 4 cut, 5 octets that are none.</summary>
    private static readonly Gen<(bool Ctl, byte Ttl, uint Seq, uint IvIndex, byte[] TransportPdu, int Fault, int Bit)> Pdus = Gen.Bool.SelectMany(ctl =>
        Gen.Select(Gen.Const(ctl), Gen.Byte[0, 127], Gen.UInt[0, 0xFFFFFF], Gen.UInt, Gen.Byte.Array[1, ctl ? 12 : 16], Gen.Int[0, 5], Gen.Int[0, 29 * 8]));

    [Theory, MemberData(nameof(Paths))]
    public void Batch_OpensEachAsByItself(string path) => Gen.Select(Key, Key, Pdus.Array[0, NetworkBatch.Capacity], Gen.Bool).Sample((encryptionKey, privacyKey, given, exactly) =>
    {
        var credentials = new NetworkCredentials(CredentialsKind.Flooding, 0x68, AesPaths.Key(path, encryptionKey), AesPaths.Key(path, privacyKey));
        byte[][] pdus = [.. given.Select(one => Composed(one, credentials))];
        NetworkBatch batch = default;
        for (int turn = 0; turn < 2; turn++)    // what a batch had before must not show
        {
            batch.Begin(credentials);
            foreach (int i in Order(turn, pdus.Length))
                batch.Add(pdus[i], given[i].Fault == 3 ? given[i].IvIndex ^ 2 : given[i].IvIndex);
            Assert.Equal(pdus.Length, batch.Count);
            batch.Open();
            int at = 0;
            foreach (int i in Order(turn, pdus.Length))
            {
                byte[] alone = Filled(pdus[i].Length + 2), together = Filled(exactly ? pdus[i].Length + 2 : 66);
                bool opens = NetworkSecurity.TryDecrypt(pdus[i], credentials, given[i].Fault == 3 ? given[i].IvIndex ^ 2 : given[i].IvIndex, alone.AsSpan(1..^1), out int expected);
                Assert.Equal(given[i].Fault < 2, opens);
                Assert.Equal(opens, batch.TryTake(at++, together.AsSpan(1..^1), out int length));
                Assert.Equal(expected, length);
                Assert.Equal(alone[..(1 + length)], together[..(1 + length)]);
                Assert.Equal(0xA5, together[^1]);
                if (!opens)
                    Assert.All(together, octet => Assert.Equal(0xA5, octet));
            }
        }
    }, iter: 1500);

    [Fact]
    public void CallersMistakes_AreExceptions()
    {
        NetworkCredentials credentials = NetworkCredentials.Flooding(new byte[16]);
        Assert.Throws<IndexOutOfRangeException>(() =>
        {
            NetworkBatch batch = default;
            batch.Begin(credentials);
            for (int i = 0; i <= NetworkBatch.Capacity; i++)
                batch.Add(new byte[20], 0);
        });
        Assert.Throws<ArgumentOutOfRangeException>(() =>
        {
            NetworkBatch batch = default;
            batch.Begin(credentials);
            batch.Add(new byte[20], 0);
            batch.Open();
            batch.TryTake(1, new byte[32], out _);
        });
    }

    [Fact]
    public void Batch_AllocatesNothing()
    {
        NetworkCredentials credentials = NetworkCredentials.Flooding(new byte[16]);
        byte[] pdu = new byte[29], clear = new byte[32];
        Use(pdu, credentials, clear);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 100; i++)
            Use(pdu, credentials, clear);
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }

    private static void Use(byte[] pdu, NetworkCredentials credentials, byte[] clear)
    {
        NetworkBatch batch = default;
        batch.Begin(credentials);
        while (batch.Count < NetworkBatch.Capacity)
            batch.Add(pdu, 1);
        batch.Open();
        for (int i = 0; i < NetworkBatch.Capacity; i++)
            batch.TryTake(i, clear, out _);
    }

    private static IEnumerable<int> Order(int turn, int count) => turn == 0 ? Enumerable.Range(0, count) : Enumerable.Range(0, count).Reverse();

    private static byte[] Filled(int count) => Enumerable.Repeat((byte)0xA5, count).ToArray();

    private static byte[] Composed((bool Ctl, byte Ttl, uint Seq, uint IvIndex, byte[] TransportPdu, int Fault, int Bit) given, NetworkCredentials credentials)
    {
        byte[] clear = new byte[NetworkSecurity.LongestPdu], pdu = new byte[NetworkSecurity.LongestPdu];
        int length = NetworkSecurity.Write(clear, given.IvIndex, credentials.Nid, given.Ctl, given.Ttl, given.Seq, new MeshAddress(1), new MeshAddress(0xC000), given.TransportPdu);
        pdu = pdu[..NetworkSecurity.Encrypt(clear.AsSpan(0, length), credentials, given.IvIndex, pdu)];
        if (given.Fault == 2)
            pdu[1 + (given.Bit / 8 % (pdu.Length - 1))] ^= (byte)(1 << (given.Bit % 8));
        return given.Fault switch
        {
            4 => pdu[..^(1 + (given.Bit % pdu.Length))],
            5 => new byte[given.Bit],
            _ => pdu,
        };
    }
}
