using System.Diagnostics;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>
/// Opening long Network PDUs against what the processor needs at least: four AES blocks of which each waits for the one before, for one PDU by itself, and
/// four whose rounds are interleaved, for one of a batch. One by itself waits for the one before too, as its key, IV index and place depend on it.
/// </summary>
internal static class DecryptionFloors
{
    private const int Repeats = 60, Operations = 4_096, Batch = 64, WarmRounds = 3;
    private const uint IvIndex = 0x12345678;

    public static void Tell()
    {
        using var benchmark = new NetworkPduBenchmarks { Pdu = "long" };
        benchmark.Prepare();
        AesKey key = new(Convert.FromHexString("0953fa93e7caac9638f58820220a398e"));
        var credentials = NetworkCredentials.Flooding(Convert.FromHexString("7dd7364cd842ad18c17c2b820c84c3d6"));
        byte[][] pdus = [.. Enumerable.Range(0, Batch).Select(number => Composed(number, credentials))];
        byte[] clear = new byte[NetworkSecurity.LongestPdu];
        double chained = Ns(() => Chained(key)), alone = Ns(() => EachAfterTheOther(pdus, credentials, clear));
        double plain = Ns(() => benchmark.OverBouncyCastlesEngine() ? Operations : 0, calls: Operations);
        double apart = Ns(() => Apart(key)), batch = Ns(() => Together(pdus, credentials, [clear, new byte[NetworkSecurity.LongestPdu], new byte[NetworkSecurity.LongestPdu], new byte[NetworkSecurity.LongestPdu]]));
        Console.WriteLine("| four chained blocks (floor) | opening one PDU | to the floor | over BouncyCastle's engine | four blocks interleaved (floor of a batch) | opening one of a batch | to that floor |");
        Console.WriteLine("| --- | --- | --- | --- | --- | --- | --- |");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"| {chained:F1} ns | {alone:F1} ns | **{alone / chained:F2}** | {plain:F1} ns | {apart:F1} ns | {batch:F1} ns | **{batch / apart:F2}** |"));
    }

    /// <summary>A PDU of 29 octets with a SEQ of its own.</summary>
    private static byte[] Composed(int number, NetworkCredentials credentials)
    {
        byte[] clear = new byte[NetworkSecurity.LongestClearPdu], pdu = new byte[NetworkSecurity.LongestPdu], transport = new byte[16];
        new Random(number).NextBytes(transport);
        int length = NetworkSecurity.Write(clear, IvIndex, credentials.Nid, ctl: false, ttl: 5, (uint)number, new Protocol.MeshAddress(0x1201), new Protocol.MeshAddress(0xC000), transport);
        NetworkSecurity.Encrypt(clear.AsSpan(0, length), credentials, IvIndex, pdu);
        return pdu;
    }

    [MethodImpl(MethodImplOptions.NoInlining)]
    private static int Chained(AesKey key)
    {
        Vector128<byte> block = Vector128<byte>.Zero;
        for (int i = 0; i < Operations; i++)
            block = key.Encrypt(key.Encrypt(key.Encrypt(key.Encrypt(block))));
        return block[0];
    }

    [MethodImpl(MethodImplOptions.NoInlining)]
    private static int Apart(AesKey key)
    {
        Vector128<byte> sum = Vector128<byte>.Zero;
        for (uint i = 0; i < Operations; i++)
        {
            Vector128<byte> a = Vector128.Create(i).AsByte(), b = Vector128.Create(~i).AsByte(), c = Vector128.Create(i << 8).AsByte(), d = Vector128.Create(~i << 8).AsByte();
            key.Encrypt(ref a, ref b, ref c, ref d);
            sum ^= a ^ b ^ c ^ d;
        }
        return sum[0];
    }

    /// <summary>Which PDU comes next hangs on what was in the one before: nothing overlaps.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static int EachAfterTheOther(byte[][] pdus, NetworkCredentials credentials, byte[] clear)
    {
        int at = 0;
        for (int i = 0; i < Operations; i++)
        {
            if (!NetworkSecurity.TryDecrypt(pdus[at], credentials, IvIndex, clear, out _))
                throw new InvalidOperationException("A PDU does not open.");
            at = (clear[4] + 1) % Batch;     // the low octet of its SEQ, which is its number
        }
        return at;
    }

    /// <summary>As the opener goes through a batch.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static int Together(byte[][] pdus, NetworkCredentials credentials, byte[][] clear)
    {
        int opened = 0;
        for (int i = 0; i < Operations; i += 4)
        {
            NetworkTask a = new(pdus[i % Batch], credentials, IvIndex, clear[0]), b = new(pdus[(i + 1) % Batch], credentials, IvIndex, clear[1]);
            NetworkTask c = new(pdus[(i + 2) % Batch], credentials, IvIndex, clear[2]), d = new(pdus[(i + 3) % Batch], credentials, IvIndex, clear[3]);
            NetworkSecurity.DecryptFour(ref a, ref b, ref c, ref d);
            opened += a.Length + b.Length + c.Length + d.Length;
        }
        return opened;
    }

    /// <summary>Nanoseconds an operation: the least of many rounds, after the runtime has had time to compile for good.</summary>
    private static double Ns(Func<int> action, int calls = 1)
    {
        for (int round = 0; round < WarmRounds; round++)
        {
            for (int i = 0; i < 64 * calls; i++)
                action();
            Thread.Sleep(250);
        }
        double least = double.MaxValue;
        for (int repeat = 0; repeat < Repeats; repeat++)
        {
            var watch = Stopwatch.StartNew();
            for (int i = 0; i < calls; i++)
                action();
            least = Math.Min(least, watch.Elapsed.TotalNanoseconds / Operations);
        }
        return least;
    }
}
